// Command bundle writes the scripts that the pages ask for: each file of
// web/script, a widget, with what it imports from web/script/part, becomes one
// file of the same name in web/static. `go generate ./...` runs it.
//
// What it writes is committed, so that whoever builds bookend needs Go and
// nothing else, and the binary holds the scripts without the tool that wrote
// them. The same sources give the same bytes, on every machine: esbuild is fixed
// by go.mod, and no path and no time goes into a script.
package main

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"os"
	"path"
	"path/filepath"
	"strings"

	"github.com/evanw/esbuild/pkg/api"
)

//go:generate go run . -root ../..

// The folders of the widgets and of what is written from them, below the root.
const (
	from = "web/script"
	to   = "web/static"
)

// worker is the one script that no page asks for by a tag: the browser runs it
// as a service worker, which is no module, so nothing of it may be global.
const worker = "worker.js"

func main() {
	root := flag.String("root", ".", "root of the checkout")
	flag.Parse()
	if flag.NArg() > 0 {
		fmt.Fprintln(os.Stderr, "bundle: no arguments are expected")
		os.Exit(2)
	}
	if err := writeAll(*root); err != nil {
		fmt.Fprintln(os.Stderr, "bundle:", err)
		os.Exit(1)
	}
}

// writeAll leaves in web/static the scripts of the widgets that there are, and
// no other; what already says so is not touched.
func writeAll(root string) error {
	widgets, err := scripts(filepath.Join(root, from))
	if err != nil {
		return err
	}
	keep := map[string]bool{}
	for _, name := range widgets {
		text, err := bundle(root, name)
		if err != nil {
			return err
		}
		keep[name] = true
		at := filepath.Join(root, to, name)
		if old, err := os.ReadFile(at); err == nil && bytes.Equal(old, text) {
			continue
		}
		if err := os.WriteFile(at, text, 0o644); err != nil {
			return err
		}
	}
	written, err := scripts(filepath.Join(root, to))
	if err != nil {
		return err
	}
	for _, name := range written {
		if !keep[name] {
			if err := os.Remove(filepath.Join(root, to, name)); err != nil {
				return err
			}
		}
	}
	return nil
}

// scripts gives the names of the scripts that lie in a folder, sorted; folders
// below it are not looked into.
func scripts(dir string) ([]string, error) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var names []string
	for _, e := range entries {
		if !e.IsDir() && path.Ext(e.Name()) == ".js" {
			names = append(names, e.Name())
		}
	}
	return names, nil
}

// bundle gives the script of one widget, small, with what it imports. Browsers of
// 2022 and later read it as it is.
func bundle(root, name string) ([]byte, error) {
	whole, err := filepath.Abs(root)
	if err != nil {
		return nil, err
	}
	format := api.FormatESModule
	if name == worker {
		format = api.FormatIIFE
	}
	result := api.Build(api.BuildOptions{
		EntryPoints:       []string{path.Join(from, name)},
		AbsWorkingDir:     whole,
		Outdir:            to,
		Bundle:            true,
		Format:            format,
		Platform:          api.PlatformBrowser,
		Target:            api.ES2022,
		Charset:           api.CharsetUTF8,
		LegalComments:     api.LegalCommentsNone,
		MinifyWhitespace:  true,
		MinifyIdentifiers: true,
		MinifySyntax:      true,
		LogLevel:          api.LogLevelSilent,
	})
	var wrong []error
	for _, m := range append(result.Errors, result.Warnings...) {
		at := path.Join(from, name)
		if m.Location != nil {
			at = fmt.Sprintf("%s:%d", m.Location.File, m.Location.Line)
		}
		wrong = append(wrong, fmt.Errorf("%s: %s", at, m.Text))
	}
	if len(wrong) > 0 {
		return nil, errors.Join(wrong...)
	}
	if len(result.OutputFiles) != 1 {
		return nil, fmt.Errorf("%s becomes %d files instead of one", path.Join(from, name), len(result.OutputFiles))
	}
	return []byte(strings.TrimSuffix(string(result.OutputFiles[0].Contents), "\n") + "\n"), nil
}
