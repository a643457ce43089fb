package compare

import (
	"example.org/bookend/compare/control"
	"example.org/bookend/compare/edition"
	"example.org/bookend/compare/joint"
	"example.org/bookend/compare/scatter"
	"example.org/bookend/compare/sequence"
	"example.org/bookend/compare/setting"
	"example.org/bookend/compare/verdict"
	"example.org/bookend/programme"
)

// What a comparison is asked for and made from.
type (
	Input     = sequence.Input
	Settings  = setting.Settings
	Spelled   = setting.Spelled
	Margin    = setting.Margin
	Drift     = setting.Drift
	By        = setting.By
	Average   = setting.Average
	Reference = setting.Reference
	When      = setting.When
	Sides     = setting.Sides
	Borrowing = setting.Borrowing
	Open      = setting.Open
	Model     = setting.Model
	RunNumber = setting.RunNumber
	Across    = setting.Across
)

// Ways with the record of the control.
const (
	RecordUsed = setting.RecordUsed
	RecordNone = setting.RecordNone
)

// The corrections.
const (
	NoDrift   = setting.NoDrift
	Bracket   = setting.Bracket
	Linear    = setting.Linear
	Quadratic = setting.Quadratic
)

// What drift runs along.
const (
	ByPosition = setting.ByPosition
	ByClock    = setting.ByClock
)

// Ways to form a ratio.
const (
	Means = setting.Means
	Logs  = setting.Logs
)

// Reference levels.
const (
	FirstControl   = setting.FirstControl
	MeanOfControls = setting.MeanOfControls
	StatedLevel    = setting.StatedLevel
)

// When to correct.
const (
	Always  = setting.Always
	IfShown = setting.IfShown
)

// Sides.
const (
	TwoSided = setting.TwoSided
	OneSided = setting.OneSided
)

// What becomes of an open block.
const (
	OpenNotShown = setting.OpenNotShown
	OpenAllowed  = setting.OpenAllowed
)

// The models.
const (
	Auto       = setting.Auto
	StintMeans = setting.StintMeans
	Mixed      = setting.Mixed
)

// What becomes of the run number within the stint.
const (
	NumberIgnored = setting.NumberIgnored
	NumberLine    = setting.NumberLine
	NumberEach    = setting.NumberEach
)

// Ways to join blocks.
const (
	InError   = setting.InError
	AsOne     = setting.AsOne
	EachBlock = setting.EachBlock
)

// What is driven, and where its scatter comes from.
type (
	RunValue   = sequence.RunValue
	ErrorModel = scatter.ErrorModel
	Term       = scatter.Term
	FResult    = scatter.FResult
)

// What the control shows.
type (
	ControlReport = control.Report
	BracketReport = control.Bracket
)

// Joint is the estimates that are judged together.
type Joint = joint.Estimates

// Verdicts.
type (
	Word    = verdict.Word
	About   = verdict.About
	Verdict = verdict.Verdict
	Grounds = verdict.Grounds
)

// The words of a verdict.
const (
	NotComputed          = verdict.NotComputed
	Better               = verdict.Better
	BetterLessThanMargin = verdict.BetterLessThanMargin
	Same                 = verdict.Same
	NotShown             = verdict.NotShown
	WorseLessThanMargin  = verdict.WorseLessThanMargin
	Worse                = verdict.Worse
)

// What a verdict is about.
const (
	TheseSets = verdict.TheseSets
	ThisTyre  = verdict.ThisTyre
)

// Judge makes a verdict; nothing else does.
func Judge(g Grounds) Verdict { return verdict.Judge(g) }

// Editions of regulations.
type (
	ProfileSettings = edition.Asked
	Quantity        = edition.Quantity
	SecondOrder     = edition.SecondOrder
	RegulationBlock = edition.Block
	RegulationRow   = edition.Row
	Finding         = edition.Finding
)

// What a profile's values may be.
const (
	Distance     = edition.Distance
	Deceleration = edition.Deceleration
	Coefficient  = edition.Coefficient
)

// Profiles gives the regulation profiles, editions side by side.
func Profiles() []programme.Profile { return edition.Profiles() }
