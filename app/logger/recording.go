// Package logger is what can be done with a logger's files before any programme knows
// them: check what they hold, cut them into runs, reduce each to its numbers, with the
// mends that somebody accepted.
//
// It is handed the readers and procedures that the build has. Values are SI as
// programme.Measure declares them; each result names by a derivation's id the bytes,
// the procedure and the parameters that it was made by.
package logger

import (
	"bytes"
	"context"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/app/origin"
	"example.org/bookend/caveat"
	"example.org/bookend/clock"
	"example.org/bookend/course"
	"example.org/bookend/fault"
	"example.org/bookend/ingest"
	"example.org/bookend/match"
	"example.org/bookend/motion"
	"example.org/bookend/procedure"
	"example.org/bookend/programme"
	"example.org/bookend/signal"
	"example.org/bookend/soundness"
	"example.org/bookend/soundness/clocks"
	"example.org/bookend/soundness/mend"
	"example.org/bookend/unit"
)

// Shelf is what the binary holds of readers and procedures; cmd fills it from
// the generated lists.
type Shelf struct {
	Readers    []ingest.Reader
	Procedures []procedure.Procedure
	Version    string // of bookend, as written into derivations
}

// Procedure gives the procedure of that id, or a not-found fault that lists
// what there is.
func (s Shelf) Procedure(id string) (procedure.Procedure, error) {
	var ids []string
	for _, p := range s.Procedures {
		if p.Spec().ID == id {
			return p, nil
		}
		ids = append(ids, p.Spec().ID)
	}
	return nil, fault.New(fault.NotFound, "no procedure %q", id).WithHint("there are: %s", strings.Join(ids, ", "))
}

// CheckDocument is the JSON of a check, schema "bookend.check/1".
type CheckDocument origin.Document[CheckResults]

// CheckResults is what the recordings of one drive hold. Reader and Begin are the
// first one's.
type CheckResults struct {
	Reader   string           `json:"reader"`
	Begin    string           `json:"begin"` // RFC 3339, or "no clock"
	Channels []CheckedChannel `json:"channels"`
}

// CheckedChannel is what one channel holds and what is wrong with it.
type CheckedChannel struct {
	File string `json:"file"`
	soundness.Channel
	ConfirmedBy string              `json:"confirmed_by,omitempty"` // what bears out its role, in words
	Correlation *float64            `json:"correlation,omitempty"`  // with that
	Findings    []soundness.Finding `json:"findings"`
}

// CheckFiles reads the recordings of one drive, one file a sensor or one for all, and
// says what they hold and what is wrong with it. The first caveats are those of the
// findings, in the order of the channels.
func (s Shelf) CheckFiles(ctx context.Context, paths []string, opt ingest.Options) (CheckDocument, error) {
	d := CheckDocument{Schema: "bookend.check/1", Settings: map[string]string{}, Caveats: caveat.List{}}
	if len(paths) > 1 && opt.Mapping != nil {
		var err error
		if opt.Mapping, err = shared(*opt.Mapping, paths); err != nil {
			return CheckDocument{}, err
		}
	}
	var recs []*signal.Recording
	for _, path := range paths {
		rec, err := ingest.Open(ctx, path, s.Readers, opt)
		if err != nil {
			return CheckDocument{}, err
		}
		recs = append(recs, rec)
		d.Inputs = append(d.Inputs, origin.Hashed{Name: rec.Name, SHA256: rec.SHA256})
	}
	found, sure, err := soundness.Examine(recs...)
	if err != nil {
		return CheckDocument{}, err
	}
	d.Results.Reader, d.Results.Begin = recs[0].Reader, recs[0].Anchor.String()
	var read caveat.List
	for _, rec := range recs {
		for _, c := range soundness.Channels(rec) {
			k := CheckedChannel{File: rec.Name, Channel: c, Findings: []soundness.Finding{}}
			if i := slices.IndexFunc(sure, func(x soundness.Confirmation) bool { return x.File == rec.Name && x.Channel == c.Name }); i >= 0 {
				k.ConfirmedBy, k.Correlation = sure[i].By, &sure[i].Correlation
			}
			for _, f := range found {
				if f.Place.File == rec.Name && f.Place.Channel == c.Name {
					k.Findings = append(k.Findings, f)
					d.Caveats = append(d.Caveats, f.Caveat)
				}
			}
			d.Results.Channels = append(d.Results.Channels, k)
		}
		for _, c := range rec.Caveats.Within(caveat.Place{File: rec.Name}) {
			// A gap that is found says more than the reader, who counts every long step.
			if c.Code != "gap" || !slices.ContainsFunc(found, func(f soundness.Finding) bool { return f.Code == "gap" && f.Place.File == rec.Name }) {
				read = append(read, c)
			}
		}
	}
	d.Caveats = append(d.Caveats, read...)
	return d, nil
}

// shared makes a mapping one for several files, each of which may lack columns of it;
// one that none of them names is a not-found fault.
func shared(m ingest.Mapping, paths []string) (*ingest.Mapping, error) {
	m.Shared = true
	missing := slices.Clone(m.Columns)
	for _, path := range paths {
		head, err := HeadOf(path)
		if err != nil {
			return nil, err
		}
		missing = slices.DeleteFunc(missing, func(c ingest.MappedColumn) bool { return bytes.Contains(head, []byte(c.Column)) })
	}
	if len(missing) > 0 {
		return nil, fault.New(fault.NotFound, "the mapping names column %q, which none of the files has", missing[0].Column).WithHint("bookend check FILE shows what its columns are called")
	}
	return &m, nil
}

// ReduceRequest asks for the numbers of the recordings of one drive, one file for all
// instruments or one each, without a programme.
type ReduceRequest struct {
	Paths     []string // the first sets the time
	Options   ingest.Options
	Procedure string
	Gates     []string // LAT,LON,LAT,LON in degrees, right post first
	Given     programme.Parameters
	Mends     []string     // words, CHANNEL:CODE or CHANNEL:WHAT=VALUE
	Moves     []match.Move // where a person has laid the pieces' ends
}

// ReduceDocument is the JSON of a reduction, schema "bookend.reduce/1".
type ReduceDocument struct {
	Schema   string          `json:"schema"`
	Inputs   []origin.Hashed `json:"inputs"`
	Settings map[string]any  `json:"settings"`
	Results  ReduceResults   `json:"results"`
	Caveats  caveat.List     `json:"caveats"`
}

// ReduceResults is the pieces that a recording was cut into, and what they
// yielded.
type ReduceResults struct {
	Began        clock.Instant       `json:"begin"` // time zero of the recording; its clock may be unknown
	Pieces       []ReducedPiece      `json:"pieces"`
	Observations []ReduceObservation `json:"observations"`
}

// ReducedPiece is one piece of the recording.
type ReducedPiece struct {
	Run      string      `json:"run,omitempty"` // empty for what is no run: out-lap and in-lap
	Kind     string      `json:"kind"`
	FromS    float64     `json:"from_s"`
	ToS      float64     `json:"to_s"`
	Distance *float64    `json:"distance_m,omitempty"`
	Counts   bool        `json:"counts"` // enters means
	Flags    caveat.List `json:"flags"`
}

// ReduceObservation is one number of one run.
type ReduceObservation struct {
	Measure     string      `json:"measure"`
	Run         string      `json:"run"`
	Place       string      `json:"place,omitempty"`
	Value       float64     `json:"value"`
	Unit        string      `json:"unit"`
	Uncertainty *float64    `json:"uncertainty,omitempty"`
	Counts      bool        `json:"counts"`
	Derivation  string      `json:"derivation"`
	Caveats     caveat.List `json:"caveats"`
}

// Reduced is a reduced recording: the answer of ReduceFile.
type Reduced struct {
	Spec     programme.Spec
	Document ReduceDocument
	Overlaid []procedure.Overlaid // traces of the runs, for figures
}

// ReduceFiles cuts what was recorded of a drive into runs and turns each into its
// numbers. Where laps are cut by gates, stations are counted along the first one that
// counts.
func (s Shelf) ReduceFiles(ctx context.Context, q ReduceRequest) (*Reduced, error) {
	if len(q.Paths) > 1 && q.Options.Mapping != nil {
		var err error
		if q.Options.Mapping, err = shared(*q.Options.Mapping, q.Paths); err != nil {
			return nil, err
		}
	}
	var recs []*signal.Recording
	for _, path := range q.Paths {
		rec, err := ingest.Open(ctx, path, s.Readers, q.Options)
		if err != nil {
			return nil, err
		}
		recs = append(recs, rec)
	}
	mends, err := mendsOf(recs, q.Mends)
	if err != nil {
		return nil, err
	}
	for i, rec := range recs {
		var own []mend.Mend
		for _, m := range mends {
			if m.File == rec.Name || len(recs) == 1 {
				m.File = ""
				own = append(own, m)
			}
		}
		if len(own) > 0 {
			if recs[i], err = mend.Apply(rec, own); err != nil {
				return nil, err
			}
		}
	}
	line := Learnt{From: recs[0].Name}
	if p, err := s.Procedure(q.Procedure); err == nil {
		if params, err := p.Spec().Settings(q.Given); err == nil {
			if c, err := CourseOf(q.Gates, p.Spec()); err == nil {
				line.Line = Learn(recs[0], c, p.Spec(), params)
			}
		}
	}
	return s.Reduce(recs, q, line, mends)
}

// Reduce reduces the recordings of one drive, mended already; mends are shown.
func (s Shelf) Reduce(recs []*signal.Recording, q ReduceRequest, line Learnt, mends []mend.Mend) (*Reduced, error) {
	p, err := s.Procedure(q.Procedure)
	if err != nil {
		return nil, err
	}
	spec := p.Spec()
	params, err := spec.Settings(q.Given)
	if err != nil {
		return nil, err
	}
	c, err := CourseOf(q.Gates, spec)
	if err != nil {
		return nil, err
	}
	if c != nil && line.Line != nil {
		c.Reference = line.Line
	}
	recs, laid := clocks.Lay(recs)
	unsound, err := unsoundness(recs)
	if err != nil {
		return nil, err
	}
	rec, err := motion.Join(recs...)
	if err != nil {
		return nil, err
	}
	var inputs []origin.Hashed
	for _, r := range recs {
		inputs = append(inputs, origin.Hashed{Name: r.Name, SHA256: r.SHA256})
	}
	pieces, doubts, err := match.Cut(rec, c, spec, params)
	if err != nil {
		return nil, err
	}
	if pieces, err = match.Recut(rec, c, spec, params, pieces, q.Moves); err != nil {
		return nil, err
	}
	out := &Reduced{Spec: spec, Document: ReduceDocument{
		Schema:   "bookend.reduce/1",
		Inputs:   inputs,
		Settings: settingsOf(spec, params, q.Gates),
		Results:  ReduceResults{Began: rec.Anchor, Pieces: []ReducedPiece{}, Observations: []ReduceObservation{}},
	}}
	if len(q.Moves) > 0 {
		out.Document.Settings["moved_cuts"] = q.Moves
	}
	if len(mends) > 0 {
		out.Document.Settings["mends"] = mends
	}
	if c != nil && c.Reference != nil {
		out.Document.Settings["reference_line"] = "first counting lap of " + line.From
	}
	all := slices.Concat(caveat.List{}, laid, rec.Caveats, unsound, doubts)
	for _, piece := range pieces {
		shown := ReducedPiece{
			Kind: string(piece.Kind), FromS: piece.FromS, ToS: piece.ToS, Counts: piece.Counts(),
			Flags: append(caveat.List{}, piece.Flags...),
		}
		if piece.LengthM > 0 {
			shown.Distance = &piece.LengthM
		}
		if piece.Kind == match.Timed {
			shown.Run = strconv.Itoa(piece.Number)
			got, err := p.Reduce(procedure.Input{
				Run: shown.Run, Recordings: []*signal.Recording{rec}, FromS: piece.FromS, ToS: piece.ToS, Course: c, Parameters: params,
			})
			if err != nil {
				return nil, fault.At(err, "run %s", shown.Run)
			}
			id, err := derivation(inputs, rec, c, spec, params, piece, s.Version)
			if err != nil {
				return nil, err
			}
			place := caveat.Place{File: rec.Name, Run: shown.Run}
			all = append(all, got.Caveats.Within(place)...)
			for _, o := range got.Observations {
				m, ok := spec.Measure(o.Measure)
				if !ok {
					return nil, fault.New(fault.Internal, "procedure %s yields %q, which it does not declare", spec.ID, o.Measure)
				}
				out.Document.Results.Observations = append(out.Document.Results.Observations, ReduceObservation{
					Measure: o.Measure, Run: o.Run, Place: o.Place, Value: o.Value, Unit: m.Unit, Uncertainty: o.Uncertainty,
					Counts: shown.Counts, Derivation: id, Caveats: append(caveat.List{}, o.Caveats...),
				})
			}
			out.Overlaid = append(out.Overlaid, procedure.Overlaid{Run: shown.Run, Traces: got.Traces})
		}
		out.Document.Results.Pieces = append(out.Document.Results.Pieces, shown)
	}
	out.Document.Caveats = append(caveat.List{}, all.Distinct()...)
	return out, nil
}

// CourseOf makes the course of a procedure from gates as typed: LAT,LON,LAT,LON in
// degrees.
func CourseOf(gates []string, spec programme.Spec) (*course.Course, error) {
	var posts []course.Posts
	for _, g := range gates {
		p, err := course.ParseGate(g)
		if err != nil {
			return nil, err
		}
		posts = append(posts, p)
	}
	if len(posts) == 0 {
		if spec.Cut == programme.CutByGate || spec.Cut == programme.CutByPass {
			return nil, fault.New(fault.Invalid, "procedure %s needs a gate", spec.ID).
				WithHint("--gate LAT,LON,LAT,LON in degrees, the right post as driven first")
		}
		return nil, nil
	}
	return course.New(posts...)
}

func settingsOf(spec programme.Spec, params programme.Parameters, gates []string) map[string]any {
	out := map[string]any{"procedure": spec.ID, "version": spec.Version}
	if len(gates) > 0 {
		out["gates"] = slices.Clone(gates)
	}
	for _, p := range spec.Parameters {
		switch {
		case len(p.Words) > 0:
			out[p.ID] = params.Word(p.ID)
		case p.Unit == "" || p.Unit == "1":
			out[p.ID] = params.Number(p.ID)
		default:
			out[p.ID+"_"+unit.MustParse(p.Unit).Key()] = params.Number(p.ID)
		}
	}
	return out
}

func derivation(inputs []origin.Hashed, rec *signal.Recording, c *course.Course, spec programme.Spec, params programme.Parameters, piece match.Piece, version string) (string, error) {
	d := programme.Derivation{
		Procedure: spec.ID, Version: spec.Version, Parameters: params,
		FromS: piece.FromS, ToS: piece.ToS, Programme: version,
	}
	for _, in := range inputs {
		d.Raw = append(d.Raw, in.SHA256)
	}
	if c != nil {
		hash, err := c.Hash()
		if err != nil {
			return "", err
		}
		d.Course = hash
	}
	for _, ch := range rec.Channels {
		for _, m := range ch.History {
			d.Mends = append(d.Mends, programme.ChannelMend{Channel: ch.Name, What: m.What, Value: m.Value, Reason: m.Reason})
		}
	}
	return d.ID()
}
