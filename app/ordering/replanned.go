package ordering

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"strings"

	"example.org/bookend/app"
	"example.org/bookend/app/ordered"
	"example.org/bookend/fault"
	"example.org/bookend/programme/runlog"
)

// Replanned logs that the rest of a test is driven as planned anew: the document of
// Reorder is kept with the log, and the deviation names its hash, what is driven
// now, and why.
func Replanned(ctx context.Context, f *app.Folder, test, incident string, document []byte) (app.Receipt, error) {
	var d ordered.ReorderDocument
	if err := json.Unmarshal(document, &d); err != nil || d.Schema != "bookend.reorder/1" {
		return app.Receipt{}, fault.New(fault.Invalid, "it is no order planned anew").WithHint("bookend order --driven … --reason … --json prints one")
	}
	var codes, without []string
	for _, s := range d.Results.Sequence {
		codes = append(codes, s.Code)
	}
	for _, w := range d.Results.Without {
		times := "once"
		if w.Stints > 1 {
			times = fmt.Sprintf("%d times", w.Stints)
		}
		without = append(without, w.Code+" "+times+" less")
	}
	what := fmt.Sprintf("after %d stints: %s", d.Results.After, strings.Join(codes, " "))
	if len(codes) == 0 {
		what = fmt.Sprintf("nothing is driven after %d stints", d.Results.After)
	}
	if len(without) > 0 {
		what += "; " + strings.Join(without, ", ")
	}
	sum, err := f.Attach(ctx, bytes.NewReader(document))
	if err != nil {
		return app.Receipt{}, err
	}
	return f.Log(ctx, runlog.Deviation, runlog.DeviationBody{Test: test, What: what, Reason: d.Results.Reason, To: sum, Incident: incident})
}
