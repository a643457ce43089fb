package compare

import (
	"encoding/json"
	"math"
	"reflect"
	"testing"
)

// sane fails the test if a NaN or an infinity is anywhere in the result, or if
// it cannot be written as JSON and read back.
func sane(t *testing.T, r *Result) {
	t.Helper()
	var walk func(path string, v reflect.Value)
	walk = func(path string, v reflect.Value) {
		switch v.Kind() {
		case reflect.Float64:
			if x := v.Float(); math.IsNaN(x) || math.IsInf(x, 0) {
				t.Errorf("%s is %v", path, x)
			}
		case reflect.Pointer, reflect.Interface:
			if !v.IsNil() {
				walk(path, v.Elem())
			}
		case reflect.Struct:
			for i := range v.NumField() {
				walk(path+"."+v.Type().Field(i).Name, v.Field(i))
			}
		case reflect.Slice:
			for i := range v.Len() {
				walk(path+"[]", v.Index(i))
			}
		case reflect.Map:
			for _, k := range v.MapKeys() {
				walk(path+"{}", v.MapIndex(k))
			}
		}
	}
	walk("result", reflect.ValueOf(r))
	b, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	var back Result
	if err := json.Unmarshal(b, &back); err != nil {
		t.Fatal(err)
	}
	c, err := json.Marshal(&back)
	if err != nil || string(b) != string(c) {
		t.Errorf("the result does not survive JSON: %v", err)
	}
}
