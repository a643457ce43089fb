package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"bookend": main})
}

// The scripts are the documents' examples and the ways of a programme.
func TestScripts(t *testing.T) {
	data, err := filepath.Abs(dataFolder())
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir: "testdata/script", RequireExplicitExec: true, RequireUniqueNames: true,
		Setup: func(e *testscript.Env) error {
			e.Setenv("DATA", data)
			return nil
		},
		Condition: func(what string) (bool, error) {
			_, err := os.Stat(data)
			return what == "data" && err == nil, nil
		},
	})
}
