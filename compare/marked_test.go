package compare

import (
	"reflect"
	"testing"

	"example.org/bookend/programme"
)

// What every run shows does not hang on which of them are left out: known from another
// comparison it is what it is when compared anew, in all that there is of it.
func TestCompareBothKnowing(t *testing.T) {
	list := append(twenty(4)[:10], twenty(4)[:10]...) // the control opens and closes either block
	for i := range list {
		list[i].block = []string{"first", "second"}[i/10]
	}
	log := logOf("gain", list)
	for _, set := range []Settings{{Drift: Linear}, {Drift: Bracket, Block: "block"}, {Drift: Linear, Block: "block", TyreByBlock: EachBlock}, {Drift: Linear, Quick: true}} {
		in := Input{Log: log, Measure: gain, Control: "K", Settings: set}
		plain, err := CompareBoth(in)
		if err != nil {
			t.Fatal(err)
		}
		known := plain.Result
		for _, out := range [][]programme.Exclusion{{{Run: "s5/2", Reason: "traffic"}}, {{Run: "s6/1", Reason: "puddle"}, {Run: "s7/3", Reason: "gust"}}} {
			in.Log.Exclusions = out
			want, err := CompareBoth(in)
			if err != nil {
				t.Fatal(err)
			}
			got, err := CompareBothKnowing(in, known)
			if err != nil {
				t.Fatal(err)
			}
			if want.All == nil || !reflect.DeepEqual(got, want) {
				t.Errorf("%+v without %v: known and compared anew are not the same", set, out)
			}
			known = got.All
		}
	}
}
