// Package setting holds what a comparison is asked to do: how drift is taken
// out, on what scale, with what error, against what margin; and spells every
// answer out, with its source, whether somebody chose it or not.
//
// In the trade it is what the plan fixes before the first candidate is driven.
// Sources stand at each setting. Units: SI; margins in index points or the
// measure's unit; drift and scatter on the analysis scale (the logarithm of the
// value for a ratio measure, else its unit). Limits: it knows no data, so what a
// setting needs of them is refused later.
package setting

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"example.org/bookend/compare/edition"
	"example.org/bookend/fault"
	"example.org/bookend/programme"
	"example.org/bookend/unit"
)

// Drift names how the drift that the control shows is taken out.
type Drift string

// The corrections.
const (
	NoDrift   Drift = "none"      // candidates against the mean of the controls, as driven
	Bracket   Drift = "bracket"   // against the control interpolated between its stints before and after
	Linear    Drift = "linear"    // a straight line in one model with the tyres
	Quadratic Drift = "quadratic" // a parabola in one model with the tyres
)

// By names what drift runs along.
type By string

// What drift runs along.
const (
	ByPosition By = "position" // place in the sequence
	ByClock    By = "clock"    // time of day
)

// Average names how a ratio is formed from runs and controls.
type Average string

// Ways to form a ratio.
const (
	Means Average = "means" // arithmetic means; the control's value is interpolated or fitted as it is, and the candidate's mean divided by it
	Logs  Average = "logs"  // everything on the log scale: geometric means
)

// Reference names the level to which absolute values are corrected. The index
// does not depend on it.
type Reference string

// Reference levels.
const (
	FirstControl   Reference = "first"  // the first control stint
	MeanOfControls Reference = "mean"   // the mean of all control stints
	StatedLevel    Reference = "stated" // a value that the evaluator states
)

// When names when the drift is taken out.
type When string

// When to correct.
const (
	Always  When = "always"
	IfShown When = "if_shown" // only if the control shows drift at the level ShownLevel
)

// Borrowing names whether scatter is borrowed from the ground's record.
type Borrowing string

// Ways with the record of the control.
const (
	RecordUsed Borrowing = "used" // where there is one that fits
	RecordNone Borrowing = "none" // never, even where there is one
)

// Sides names whether worse is asked for as well as better.
type Sides string

// Sides.
const (
	TwoSided Sides = "two"
	OneSided Sides = "one" // better alone: worse cannot be shown
)

// Open names what becomes of a candidate without a closing control.
type Open string

// What becomes of an open block.
const (
	OpenNotShown Open = "not_shown" // an estimate, never a verdict but not shown
	OpenAllowed  Open = "allowed"   // judged as the others, by its wider interval
)

// Model names what scatters: the error that estimates are judged by.
type Model string

// The models.
const (
	Auto       Model = "auto"        // stint means where stints have the same runs, else mixed
	StintMeans Model = "stint_means" // stint means with one variance
	Mixed      Model = "mixed"       // runs within stints, by restricted likelihood
)

// RunNumber names how the number of a run within its stint is allowed for:
// warm-up, wear, learning, common to all codes.
type RunNumber string

// What becomes of the run number. It matters only where stints have other runs
// than each other.
const (
	NumberIgnored RunNumber = "none"
	NumberLine    RunNumber = "linear" // one slope
	NumberEach    RunNumber = "each"   // every number has a level of its own
)

// Across names how blocks (days, drivers, sessions) are joined.
type Across string

// Ways to join blocks.
const (
	InError   Across = "error"  // tyre by block is part of the error
	AsOne     Across = "common" // candidates stand to the control alike in all blocks
	EachBlock Across = "each"   // verdicts block by block, none for all together
)

// Margin is the smallest difference that matters to the client.
type Margin struct {
	Value  float64 // > 0
	InUnit bool    // false: index points; true: the measure's unit (SI)
	Typed  string  // symbol of the unit that somebody typed, which has to fit the measure; empty: none is known
	Bare   bool    // a number typed without a unit: of a difference, it is in the unit that people see
}

// of gives the margin as measure m has it, in SI and without Typed and Bare. A
// unit of another kind than the measure's is refused; so is any beside values whose
// unit nobody states: they may be in another, or be no such quantity at all.
func (g Margin) of(m programme.Measure) (*Margin, error) {
	out := &Margin{Value: g.Value, InUnit: g.InUnit}
	if g.Bare && g.InUnit && m.Shown != "" {
		u, err := unit.Parse(m.Shown)
		if err != nil {
			return nil, fault.At(err, "the unit in which %s is shown", m.ID)
		}
		out.Value = u.DifferenceToHouse(g.Value)
	}
	if g.Typed == "" {
		return out, nil
	}
	typed, err := unit.Parse(g.Typed)
	if err != nil {
		return nil, fault.At(err, "the margin")
	}
	bare := "in index points (1)"
	if m.Scale != programme.Ratio {
		bare = "without a unit"
	}
	switch {
	case m.Scale == programme.Threshold: // a speed, whatever its attempts are written in
		if typed.Dimension() != unit.Speed {
			return nil, fault.New(fault.Invalid, "the margin is in %s, and a threshold is a speed", typed).WithHint("for example 3km/h")
		}
		return out, nil
	case m.Unit == "":
		return nil, fault.New(fault.Invalid, "the margin is in %s, and in what unit %s is nobody states", typed, m.ID).
			WithHint("name the unit behind the column's name, value (%s), or give the margin %s", typed, bare)
	}
	own, err := unit.Parse(m.Unit)
	if err != nil {
		return nil, fault.At(err, "the unit of %s", m.ID)
	}
	if own.Dimension() != typed.Dimension() {
		return nil, fault.New(fault.Invalid, "the margin is in %s, and %s is in %s", typed, m.ID, cmp.Or(m.Shown, m.Unit)).
			WithHint("give the margin in index points (1), or in the unit of the values")
	}
	return out, nil
}

// Settings say how a comparison is made. Every field left at its zero value is
// completed by its default, and Spelled lists them all with their sources.
type Settings struct {
	Drift          Drift    // default bracket
	DriftPerBlock  Drift    // none, linear or quadratic: drift of its own in each block, beside the common one; default none
	By             By       // default position
	Covariates     []string // columns of runs that enter the model, centred; only beside the control
	Block          string   // name of the column that the blocks came from, for the record alone
	Scale          programme.Scale
	Average        Average   // default: means with bracket, logs with the rest
	Reference      Reference // default first
	StatedLevel    *float64  // for Reference stated, in the measure's unit
	When           When      // default always
	ShownLevel     float64   // default 0.05
	Margin         *Margin   // nil: nothing is called the same
	Sided          Sides     // default two
	Confidence     float64   // default 0.95, of all intervals of one measure together
	Power          float64   // default 0.8, for the smallest detectable difference
	Open           Open      // default not_shown
	DriftSD        *float64  // random-walk standard deviation of the control a position (or s by clock), on the analysis scale, from a record; for open blocks
	UseLimitM      *float64  // how far control and candidates may differ in distance run, in m, weighed as in the estimate; nil: not judged
	UseLimitStints float64   // the same in stints that their sets had done; default 1
	TreadLimitM    *float64  // the same in tread left, in m; nil: not judged
	Model          Model     // default auto
	Record         Borrowing // default used
	RunNumber      RunNumber // default linear; none with a profile
	TyreByBlock    Across    // default error
	SetSD          *float64  // set-to-set standard deviation on the analysis scale, from elsewhere: makes verdicts about the tyre
	SetSDSource    string    // where it is from; insisted on with it
	Thresholds     bool      // the measure is a threshold: attempts with entry speed, clean or not; set by its scale
	Counts         bool      // the measure is a count; set by its scale
	Clean          string    // what says clean or not beside an entry speed; default clean
	Speed          string    // what gives the entry speed beside clean or not; default entry_speed
	Ceiling        *float64  // highest entry speed that the ground allows, m/s; nil: none was set
	Quick          bool      // leave out what no verdict rests on and what takes longest: adjusted p-values and the search for a sudden shift
	Profile        *edition.Asked
	Limits         []programme.Limit   // the evaluator's own, judged beside those of the profile
	Profiles       []programme.Profile // held beside: the evaluator's own, or published editions by their id alone; each once
}

// Spelled is one setting as used, spelt out.
type Spelled = edition.Spelled

func own(why string) programme.Source {
	return programme.Source{Key: programme.Own, Clause: why}
}

// Complete gives the settings with every default filled in, and the same spelt
// out.
func (s Settings) Complete(m programme.Measure) (Settings, []Spelled, error) {
	var list []Spelled
	put := func(key, value string, isDefault bool, src programme.Source) {
		list = append(list, Spelled{Key: key, Value: value, Default: isDefault, Source: src})
	}
	given := s
	if p := s.Profile; p != nil {
		prof, err := p.Complete()
		if err != nil {
			return s, nil, err
		}
		if s.Drift != "" && s.Drift != Bracket || s.By != "" && s.By != ByPosition || s.Scale != "" && s.Scale != programme.Ratio || s.Average != "" && s.Average != Means || s.DriftPerBlock != "" && s.DriftPerBlock != NoDrift {
			return s, nil, fault.New(fault.Invalid, "profile %s fixes bracket, position, ratio and means, but the settings ask for something else", p.ID).
				WithHint("leave drift, by, scale and average out, or the profile")
		}
		s.Profile = &prof
		s.Drift, s.By, s.Scale, s.Average = Bracket, ByPosition, programme.Ratio, Means
	}

	if err := word("drift", string(s.Drift), "", NoDrift, Bracket, Linear, Quadratic); err != nil {
		return s, nil, err
	}
	if err := word("drift per block", string(s.DriftPerBlock), "", NoDrift, Linear, Quadratic); err != nil {
		return s, nil, err
	}
	if s.DriftPerBlock == "" {
		s.DriftPerBlock = NoDrift
	}
	if s.Drift == "" {
		s.Drift = Bracket
		if s.DriftPerBlock != NoDrift || len(s.Covariates) > 0 {
			s.Drift = Linear
		}
	}
	if s.Drift == Bracket && s.DriftPerBlock == Quadratic {
		return s, nil, fault.New(fault.Invalid, "a bracket has no parabola of its own in each block").
			WithHint("choose drift linear or quadratic with drift per block")
	}
	put("drift", string(s.Drift), given.Drift == "", programme.Source{Key: "unece-r117", Clause: "Annex 7, table 1: weights of the bracketing references; straight lines: astm-f1650, abstract"})
	put("drift_per_block", string(s.DriftPerBlock), given.DriftPerBlock == "", own("blocks differ in level always, in drift only if asked"))

	if err := word("by", string(s.By), "", ByPosition, ByClock); err != nil {
		return s, nil, err
	}
	if s.By == "" {
		s.By = ByPosition
	}
	put("by", string(s.By), given.By == "", programme.Source{Key: "unece-r117", Clause: "Annex 7, table 1 interpolates by place in the sequence"})

	for i, c := range s.Covariates {
		if c == "" || slices.Contains(s.Covariates[:i], c) {
			return s, nil, fault.New(fault.Invalid, "covariate %q is empty or named twice", c)
		}
	}
	if len(s.Covariates) > 0 && s.Drift == Bracket {
		return s, nil, fault.New(fault.Invalid, "covariates enter a model with a drift line or curve, not a bracket").
			WithHint("choose drift linear or quadratic, or none")
	}
	put("covariates", strings.Join(s.Covariates, " "), len(s.Covariates) == 0, own("only beside the control correction, never silently instead of it"))
	put("block", s.Block, s.Block == "", own("blocks are joined through the control"))

	if s.Scale == "" {
		s.Scale = m.Scale
	}
	scaleDefault := given.Scale == ""
	if s.Scale == "" {
		s.Scale = programme.Ratio
	}
	switch s.Scale {
	case programme.Ratio, programme.Difference:
	case programme.Count:
		s.Counts, s.Scale = true, programme.Difference
	case programme.Threshold:
		s.Thresholds, s.Scale = true, programme.Difference
	default:
		return s, nil, fault.New(fault.Invalid, "scale %q is no scale", s.Scale).WithHint("choose ratio, difference, count or threshold")
	}
	if s.Thresholds {
		if s.Profile != nil {
			return s, nil, fault.New(fault.Invalid, "profile %s knows no thresholds", s.Profile.ID)
		}
		if s.Clean == "" {
			s.Clean = "clean"
		}
		if s.Speed == "" {
			s.Speed = "entry_speed"
		}
		if s.Ceiling != nil && !(finite(*s.Ceiling) && *s.Ceiling > 0) {
			return s, nil, fault.New(fault.Invalid, "the ceiling of the entry speed is %v, not above 0", *s.Ceiling)
		}
	}
	if m.Better == programme.Nearest && s.Scale == programme.Ratio {
		if !scaleDefault {
			return s, nil, fault.New(fault.Invalid, "a measure that is best at a target has no ratio").WithHint("choose the scale difference")
		}
		s.Scale = programme.Difference
	}
	scale := string(s.Scale)
	switch {
	case s.Thresholds:
		scale = string(programme.Threshold)
	case s.Counts:
		scale = string(programme.Count)
	}
	put("scale", scale, scaleDefault, own("declared by the measure; ratio: astm-f1650, difference: 49 CFR 575.104(f) set the precedents"))

	if err := word("average", string(s.Average), "", Means, Logs); err != nil {
		return s, nil, err
	}
	if s.Average == "" {
		s.Average = Logs
		if s.Drift == Bracket {
			s.Average = Means
		}
	}
	if s.Scale == programme.Difference {
		s.Average = Means
	} else if s.Average == Means && len(s.Covariates) > 0 {
		return s, nil, fault.New(fault.Invalid, "a ratio of means has no covariates").WithHint("choose average logs")
	} else if s.Average == Means && s.DriftPerBlock != NoDrift && s.Drift != Bracket {
		return s, nil, fault.New(fault.Invalid, "a ratio of means has no drift of its own in each block").WithHint("choose average logs")
	} else if s.Average == Logs && s.Drift == Bracket {
		return s, nil, fault.New(fault.Invalid, "a bracket weights arithmetic means").WithHint("choose average means, or drift linear")
	}
	if s.Thresholds {
		put("clean", s.Clean, given.Clean == "", own("measure or column beside the entry speed that says 1 or 0"))
		put("speed", s.Speed, given.Speed == "", own("measure or column beside clean or not that gives the entry speed"))
		ceiling := "none"
		if s.Ceiling != nil {
			ceiling = unit.Shortest(*s.Ceiling)
		}
		put("ceiling_mps", ceiling, s.Ceiling == nil, own("the ground's, set beforehand: a clean attempt at it is censored, no failure"))
	}
	put("average", string(s.Average), given.Average == "", programme.Source{Key: "unece-r117", Clause: "a bracket weights means of decelerations; models work on the log scale"})

	if err := word("reference", string(s.Reference), "", FirstControl, MeanOfControls, StatedLevel); err != nil {
		return s, nil, err
	}
	if s.Reference == "" {
		s.Reference = FirstControl
	}
	if (s.Reference == StatedLevel) != (s.StatedLevel != nil) {
		return s, nil, fault.New(fault.Invalid, "reference level %q and a stated level do not go together", s.Reference).
			WithHint("give the reference as stated with its value, or leave the value out")
	}
	if s.StatedLevel != nil && (!finite(*s.StatedLevel) || s.Scale == programme.Ratio && *s.StatedLevel <= 0) {
		return s, nil, fault.New(fault.Invalid, "the stated level %v is no level", *s.StatedLevel)
	}
	put("reference", string(s.Reference), given.Reference == "", programme.Source{Key: "astm-f1650", Clause: "abstract: method A the first control test, method B the grand mean"})
	if s.StatedLevel != nil {
		put("stated_level", unit.Shortest(*s.StatedLevel), false, own("as stated"))
	}

	if err := word("when", string(s.When), "", Always, IfShown); err != nil {
		return s, nil, err
	}
	if s.When == "" {
		s.When = Always
	}
	if s.When == IfShown && s.Drift == NoDrift {
		return s, nil, fault.New(fault.Invalid, "correct if the control shows drift, but how?").WithHint("choose drift bracket, linear or quadratic with it")
	}
	if s.When == IfShown && s.DriftPerBlock != NoDrift {
		return s, nil, fault.New(fault.Invalid, "drift of its own in each block is not tested for, so it cannot be taken out only if shown").WithHint("choose always, or leave drift per block out")
	}
	put("when", string(s.When), given.When == "", programme.Source{Key: "astm-f1650", Clause: "scope: method B corrects without a test, method A only after one"})
	if s.ShownLevel == 0 {
		s.ShownLevel = 0.05
	}
	if !(s.ShownLevel > 0 && s.ShownLevel < 1) {
		return s, nil, fault.New(fault.Invalid, "the level at which drift counts as shown is %v, not between 0 and 1", s.ShownLevel)
	}
	put("shown_level", unit.Shortest(s.ShownLevel), given.ShownLevel == 0, own("the usual 5 %; the source states no level that was seen"))

	if s.Margin != nil {
		if !finite(s.Margin.Value) || s.Margin.Value <= 0 {
			return s, nil, fault.New(fault.Invalid, "the margin is %v, not above 0", s.Margin.Value)
		}
		var err error
		if s.Margin, err = s.Margin.of(m); err != nil {
			return s, nil, err
		}
		if s.Scale == programme.Difference && !s.Margin.InUnit && m.Unit != "" && m.Unit != "1" {
			return s, nil, fault.New(fault.Invalid, "measure %s is compared as a difference and has no index points", m.ID).
				WithHint("give the margin in its unit, such as 0.2 %s", m.Unit)
		}
		text := unit.Shortest(s.Margin.Value)
		if s.Margin.InUnit || s.Scale == programme.Difference {
			text = strings.TrimSpace(text + " " + m.Unit)
		} else {
			text += " index points"
		}
		put("margin", text, false, own("the client's"))
	} else {
		put("margin", "none", true, own("without a margin nothing is the same"))
	}

	if err := word("sided", string(s.Sided), "", TwoSided, OneSided); err != nil {
		return s, nil, err
	}
	if s.Sided == "" {
		s.Sided = TwoSided
	}
	put("sided", string(s.Sided), given.Sided == "", own("worse is asked for as well as better"))
	if s.Confidence == 0 {
		s.Confidence = 0.95
	}
	if !(s.Confidence > 0.5 && s.Confidence < 1) {
		return s, nil, fault.New(fault.Invalid, "the confidence is %v, not between 0.5 and 1", s.Confidence).WithHint("write 0.95 for 95 %%")
	}
	put("confidence", unit.Shortest(s.Confidence), given.Confidence == 0, programme.Source{Key: "dunnett-1964", Clause: "joint confidence of all comparisons of a measure; 95 % by custom"})
	if s.Power == 0 {
		s.Power = 0.8
	}
	if !(s.Power > 0 && s.Power < 1) {
		return s, nil, fault.New(fault.Invalid, "the power is %v, not between 0 and 1", s.Power)
	}
	put("power", unit.Shortest(s.Power), given.Power == 0, own("the customary 0.8, for one candidate that differs"))

	if err := word("open", string(s.Open), "", OpenNotShown, OpenAllowed); err != nil {
		return s, nil, err
	}
	if s.Open == "" {
		s.Open = OpenNotShown
	}
	put("open", string(s.Open), given.Open == "", own("without a closing control drift cannot be told from the tyre"))
	if s.DriftSD != nil {
		if !finite(*s.DriftSD) || *s.DriftSD < 0 {
			return s, nil, fault.New(fault.Invalid, "the drift's standard deviation is %v", *s.DriftSD)
		}
		put("drift_sd", unit.Shortest(*s.DriftSD), false, own("from the record of control stints"))
	}
	if s.UseLimitM != nil {
		if !finite(*s.UseLimitM) || *s.UseLimitM < 0 {
			return s, nil, fault.New(fault.Invalid, "the limit of use is %v m", *s.UseLimitM)
		}
		put("use_limit_m", unit.Shortest(*s.UseLimitM), false, own("the evaluator's"))
	}
	if !finite(s.UseLimitStints) || s.UseLimitStints < 0 {
		return s, nil, fault.New(fault.Invalid, "the limit of use is %v stints", s.UseLimitStints)
	}
	if s.UseLimitStints == 0 {
		s.UseLimitStints = 1
	}
	put("use_limit_stints", unit.Shortest(s.UseLimitStints), given.UseLimitStints == 0, own("a stint more or less than the control's is what most orders make"))
	if s.TreadLimitM != nil {
		if !finite(*s.TreadLimitM) || *s.TreadLimitM < 0 {
			return s, nil, fault.New(fault.Invalid, "the limit of tread is %v m", *s.TreadLimitM)
		}
		put("tread_limit_m", unit.Shortest(*s.TreadLimitM), false, own("the evaluator's"))
	}
	if err := word("model", string(s.Model), "", Auto, StintMeans, Mixed); err != nil {
		return s, nil, err
	}
	if s.Profile != nil && s.Model == Mixed {
		return s, nil, fault.New(fault.Invalid, "profile %s compares stint means, but the model mixed is asked for", s.Profile.ID).WithHint("leave the model out, or the profile")
	}
	if s.Model == "" {
		s.Model = Auto
		if s.Profile != nil {
			s.Model = StintMeans
		}
	}
	put("model", string(s.Model), given.Model == "", own("the stint is the unit of analysis, runs of one stint are no independent replicates; a mixed model gives the same where stints have the same runs, and weights them where not"))
	if err := word("run number", string(s.RunNumber), "", NumberIgnored, NumberLine, NumberEach); err != nil {
		return s, nil, err
	}
	if err := word("record", string(s.Record), "", RecordUsed, RecordNone); err != nil {
		return s, nil, err
	}
	if s.Record == "" {
		s.Record = RecordUsed
	}
	put("record", string(s.Record), given.Record == "", own("a record that fits is used, and the interval without it stands beside"))
	if s.Profile != nil && s.RunNumber != "" && s.RunNumber != NumberIgnored {
		return s, nil, fault.New(fault.Invalid, "profile %s compares plain means, but the run number is to be allowed for", s.Profile.ID).WithHint("leave the run number out, or the profile")
	}
	if s.RunNumber == "" {
		s.RunNumber = NumberLine
		if s.Profile != nil {
			s.RunNumber = NumberIgnored
		}
	}
	put("run_number", string(s.RunNumber), given.RunNumber == "", own("warm-up and wear within the stint are common to all codes; stints are compared on equal run numbers"))
	if err := word("tyre by block", string(s.TyreByBlock), "", InError, AsOne, EachBlock); err != nil {
		return s, nil, err
	}
	if s.TyreByBlock == "" {
		s.TyreByBlock = InError
		if s.Profile != nil {
			s.TyreByBlock = AsOne
		}
	}
	put("tyre_by_block", string(s.TyreByBlock), given.TyreByBlock == "", own("figures for all drivers or days together stand only with tyre by block in the error"))
	switch {
	case s.SetSD == nil && s.SetSDSource != "":
		return s, nil, fault.New(fault.Invalid, "a source is given for a set-to-set standard deviation, but not the deviation")
	case s.SetSD == nil:
		put("set_sd", "none", true, own("without one, or two sets of each, verdicts are about the sets driven"))
	case !finite(*s.SetSD) || *s.SetSD < 0:
		return s, nil, fault.New(fault.Invalid, "the set-to-set standard deviation is %v", *s.SetSD)
	case strings.TrimSpace(s.SetSDSource) == "":
		return s, nil, fault.New(fault.Invalid, "the set-to-set standard deviation has no source").WithHint("say where it is from")
	default:
		put("set_sd", unit.Shortest(*s.SetSD), false, own(s.SetSDSource))
	}
	if s.Profile != nil {
		list = append(list, s.Profile.Spelled()...)
	}
	var err error
	if s.Limits, err = edition.Limits(s.Limits); err != nil {
		return s, nil, err
	}
	s.Profiles = slices.Clone(s.Profiles)
	for i := range s.Profiles {
		p := &s.Profiles[i]
		twice := s.Profile != nil && p.ID == s.Profile.ID || slices.ContainsFunc(s.Profiles[:i], func(x programme.Profile) bool { return x.ID == p.ID })
		if twice {
			return s, nil, fault.New(fault.Invalid, "profile %s is held twice", p.ID)
		}
		mine := len(p.Limits) > 0
		if *p, err = edition.Beside(*p); err != nil {
			return s, nil, err
		}
		value := p.ID + "/" + strconv.Itoa(p.Version)
		if mine { // its id does not say what it asks
			sum, err := programme.Hash(p)
			if err != nil {
				return s, nil, err
			}
			value += " " + sum[:12]
		}
		list = append(list, Spelled{Key: "profile_beside", Value: value, Source: p.Source})
	}
	return s, list, nil
}

func word[T ~string](what, got string, choices ...T) error {
	for _, c := range choices {
		if got == string(c) {
			return nil
		}
	}
	var names []string
	for _, c := range choices {
		if c != "" {
			names = append(names, string(c))
		}
	}
	return fault.New(fault.Invalid, "%s: %q is no choice", what, got).WithHint("choose one of: %s", strings.Join(names, ", "))
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// Degree gives the degree of the polynomial that a drift is in one model with
// the tyres; 0 for a bracket, which is none.
func (d Drift) Degree() int {
	switch d {
	case Linear:
		return 1
	case Quadratic:
		return 2
	}
	return 0
}

// Correction says in words how a drift is taken out under the settings.
func (s Settings) Correction(drift Drift) string {
	var text string
	switch drift {
	case NoDrift:
		text = "none"
		if s.DriftPerBlock != NoDrift {
			text = "no common drift"
		}
	case Bracket:
		text = "bracket"
	case Linear:
		text = "straight line"
	case Quadratic:
		text = "parabola"
	}
	if drift != NoDrift || s.DriftPerBlock != NoDrift {
		switch s.DriftPerBlock {
		case Linear:
			text += ", a line of its own in each block"
		case Quadratic:
			text += ", a parabola of its own in each block"
		}
		text += ", by " + string(s.By)
	}
	return text
}
