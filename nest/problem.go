// Package nest decides which version runs in which lane for how many rows,
// section by section, at the lowest cost that it can find, and proves how far
// from the lowest possible that is. It knows nothing of files, currencies or
// terminals: a Problem goes in, a Plan and a bound come out.
//
//	p := nest.Problem{
//		Lanes: 4,
//		Costs: nest.Costs{Row: 13.44, Section: 18676},
//		Versions: []nest.Version{{ID: "A", Quantity: 4500}, {ID: "B", Quantity: 9000}, {ID: "C", Quantity: 16000}},
//	}
//	r, err := nest.Solve(ctx, p, nest.Options{Engine: engine})
//	// r.Plan.Cost.Total == 136472, r.Proven
package nest

// Problem is one gang on one die in one set-up: every demand in labels, every
// length in rows (one label pitch of web in all lanes), every cost in one
// unit of money. The zero value of every field but Lanes and Versions means
// 'no cost' or 'no constraint'.
type Problem struct {
	Lanes    int   // lanes across the die, from 1
	Closed   []int // lanes out of use, counted from 1 at the operator's left
	Versions []Version
	Costs    Costs
	Limits   Limits
	Press    Press
	Stock    Stock

	// Together lists sets of versions (indices) that share their sections:
	// where one of a set runs, all of it run.
	Together [][]int
	// Apart lists sets of look-alike versions (indices): no two different
	// ones of a set may run in neighbouring lanes of one section. A closed or
	// empty lane between them separates them.
	Apart [][]int
}

// Version is one artwork with its quantity.
type Version struct {
	ID       string
	Quantity int // labels ordered, from 1

	// Fewest labels that the customer takes; 0 is Quantity.
	Fewest int
	// Most labels that the customer takes; beyond them a label is scrap. 0 is
	// no limit: then nothing is scrap.
	Most int
	// ShortCost is the money lost for every label below Quantity (it is not
	// billed).
	ShortCost float64
	// OverPrice is the money earned for every label above Quantity, up to
	// Most (or without limit where Most is 0 is not allowed: an OverPrice
	// needs a Most).
	OverPrice float64
	// LabelCost is the money (ink, clicks) that every printed label costs,
	// scrap and overs too.
	LabelCost float64

	// LeastLanes and MostLanes bound the lanes of a section in which this
	// version runs; 0 is no bound.
	LeastLanes, MostLanes int
	// OnlyLanes are the lanes (from 1) that may hold this version; empty is
	// any.
	OnlyLanes []int
	// OnePiece keeps all of this version in one section.
	OnePiece bool

	// Rush versions are finished in the first sections: no section in which
	// no rush version runs comes before one in which one does.
	Rush bool
	// Deadline in minutes after the start of the set-up, by the end of the
	// last section that holds this version; 0 is none.
	Deadline float64

	// LabelsPerRoll of a full customer roll; 0 is not known.
	LabelsPerRoll int
	// MostSplices that one customer roll may have, counted only where
	// LabelsPerRoll is known; 0 is no limit, -1 is none allowed.
	MostSplices int

	// Filler may be left out; ElsewhereCost is then paid (what it costs to
	// print it another day).
	Filler        bool
	ElsewhereCost float64
}

// Costs of a plan: Fixed + Row·rows + Section·sections + LaneRun·(lane runs
// that are not carried over from the section before) + what Version and
// Stock add.
type Costs struct {
	Fixed   float64 // once, e.g. what the first set-up costs more than a changeover; may be negative
	Row     float64 // of one row of web in all lanes
	Section float64 // of starting one section
	LaneRun float64 // of starting a version in a lane
	// WholeRollSaving is earned for every section but the last in which every
	// lane run is whole customer rolls (rows divisible by its version's
	// LabelsPerRoll, all of them known).
	WholeRollSaving float64
}

// Limits on the shape of a plan.
type Limits struct {
	Sections           int // exactly so many; 0 is free
	MostSections       int // at most so many; 0 is no limit
	VersionsPerSection int // at most so many in one section; 0 is no limit
	Frame              int // rows of a section are a multiple of this; 0 is 1
	LeastRows          int // of a section; 0 is none
	// WholeRolls requires that in every section but the last every lane run
	// is whole customer rolls of its version, where LabelsPerRoll is known.
	WholeRolls bool
}

// Press tells how long a plan takes, in minutes, for deadlines; all zero
// where none are given.
type Press struct {
	SetupMinutes, RowMinutes, ChangeoverMinutes float64
}

// Stock tells where parent rolls end. RollRows 0 is an endless web.
type Stock struct {
	RollRows       float64 // rows on one parent roll
	SetupRows      float64 // web used before the first section
	ChangeoverRows float64 // web used by a changeover
	SpliceCost     float64 // of a splice inside a section, in money, web included
	SpliceRows     float64 // web lost at a splice
}

// Section is a stretch of web in which every lane keeps its version.
type Section struct {
	Rows  int
	Lanes []int // version index of every lane from the operator's left; Empty for none
}

// Empty marks a lane that prints nothing.
const Empty = -1

// Plan is the sections in the order in which they run. Everything else about
// a plan follows from them and the Problem.
type Plan struct {
	Sections []Section
	// Splices are the rows (counted over all sections from 0) inside a
	// section at which one parent roll ends and the next begins, and
	// RollChanges the sections (from 0) that begin with a fresh parent roll.
	// Both are empty where Stock.RollRows is 0.
	Splices     []int
	RollChanges []int
	Cost        Cost
}

// Cost of a plan by kind; Total is their sum.
type Cost struct {
	Total                                        float64
	Fixed, Rows, Sections, LaneRuns              float64
	Labels, Shorts, Overs, Elsewhere, WholeRolls float64 // Overs and WholeRolls are earnings: negative or zero
	Splices                                      float64
}
