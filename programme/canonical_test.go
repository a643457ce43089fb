package programme

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// treeForm is the canonical form by another way: encoding/json reads the value into
// maps and lists, and each is written by itself.
func treeForm(t *testing.T, v any) string {
	t.Helper()
	first, err := json.Marshal(v)
	if err != nil {
		t.Fatal(err)
	}
	d := json.NewDecoder(bytes.NewReader(first))
	d.UseNumber()
	var tree any
	if err := d.Decode(&tree); err != nil {
		t.Fatal(err)
	}
	var write func(tree any) string
	write = func(tree any) string {
		var out bytes.Buffer
		switch v := tree.(type) {
		case map[string]any:
			var keys []string
			for k := range v {
				keys = append(keys, k)
			}
			slices.Sort(keys)
			for i, k := range keys {
				if i > 0 {
					out.WriteByte(',')
				}
				fmt.Fprintf(&out, "%s:%s", write(k), write(v[k]))
			}
			return "{" + out.String() + "}"
		case []any:
			for i, e := range v {
				if i > 0 {
					out.WriteByte(',')
				}
				out.WriteString(write(e))
			}
			return "[" + out.String() + "]"
		}
		e := json.NewEncoder(&out)
		e.SetEscapeHTML(false)
		if err := e.Encode(tree); err != nil {
			t.Fatal(err)
		}
		return string(bytes.TrimSuffix(out.Bytes(), []byte("\n")))
	}
	return write(tree)
}

func canonicalOf(t *testing.T, v any) string {
	t.Helper()
	b, err := Canonical(v)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// The example of RFC 8785, 3.2.2 and 3.2.3 (from memory), with its numbers in the digits
// of encoding/json, which keeps those that came as text.
func TestCanonicalRFC8785(t *testing.T) {
	in := json.RawMessage("{\n \"numbers\": [1e30, 4.5, 0.002],\n \"string\": \"\\u20ac$\\u000F\\u000aA'\\u0042\\u0022\\u005c\\\\\\\"\\/\",\n \"literals\": [null, true, false]\n}")
	want := `{"literals":[null,true,false],"numbers":[1e30,4.5,0.002],"string":"€$\u000f\nA'B\"\\\\\"/"}`
	if got := canonicalOf(t, in); got != want {
		t.Errorf("%s\nwant %s", got, want)
	}
}

// The one pass gives what the tree gives, of values of every kind and of JSON as other
// programs write it.
func TestCanonicalByTree(t *testing.T) {
	type inner struct {
		Z    float64         `json:"z"`
		A    *int            `json:"a,omitempty"`
		Raw  json.RawMessage `json:"raw,omitempty"`
		Name string          `json:"<n&m>"`
	}
	seven := 7
	for _, v := range []any{
		nil, true, 1.5, math.Copysign(0, -1), 1e21, 5e-324, math.MaxInt64, "", "a<b>&c", "\u2028\u2029é\x7f\x00\t\"\\\b\f", "\xff\xfe", []int{}, map[string]int{}, struct{}{},
		map[string]any{"b": 1, "a": []any{nil, "x"}, "": 0, "é": 1, "z\"": 2, "\n": 3},
		inner{1, &seven, json.RawMessage(`{ "b":1, "a" : [ 1 , 2.50, 1E+2 ], "b": {"y":1,"x":2} }`), "<>"},
		[]inner{{Raw: json.RawMessage(`"\u00e9\/\ud83d\ude00\udead<"`)}, {Raw: json.RawMessage("\"\xff<\"")}, {Raw: json.RawMessage(`{"k\u0061":1,"ka":2,"k":{}}`)}},
		json.RawMessage(`12345678901234567890123`), json.RawMessage(`{"a":{"a":{"a":[[[]],{}]}}}`),
	} {
		if got, want := canonicalOf(t, v), treeForm(t, v); got != want {
			t.Errorf("%#v: %s\nwant %s", v, got, want)
		}
	}
	r := rand.New(rand.NewPCG(8, 785))
	var grow func(depth int) any
	word := func() string {
		list := []rune("ab<>&\"\\\n\té€\u2028\U0001F600\x01/")
		out := make([]rune, r.IntN(6))
		for i := range out {
			out[i] = list[r.IntN(len(list))]
		}
		return string(out)
	}
	grow = func(depth int) any {
		switch n := r.IntN(6); {
		case n == 0 || depth == 0:
			return word()
		case n == 1:
			return r.NormFloat64() * math.Pow(10, float64(r.IntN(60)-30))
		case n == 2:
			return r.Int64()
		case n == 3:
			out := []any{}
			for range r.IntN(4) {
				out = append(out, grow(depth-1))
			}
			return out
		default:
			out := map[string]any{}
			for range r.IntN(5) {
				out[word()] = grow(depth - 1)
			}
			return struct {
				Z any `json:"z"`
				M any `json:"m"`
				A any `json:"a"`
			}{out, grow(depth - 1), word()}
		}
	}
	for range 2000 {
		v := grow(5)
		if got, want := canonicalOf(t, v), treeForm(t, v); got != want {
			t.Fatalf("%#v: %s\nwant %s", v, got, want)
		}
	}
	if _, err := Canonical(math.NaN()); err == nil {
		t.Error("not a number has a form")
	}
}
