// Package jobs holds what a label shop knows, as plain data: orders and their
// versions, dies, stocks, presses, the shop's policy; lengths and money; and
// the turning of a gang into a nest.Problem. It reads no files (jobs/intake
// does) and knows no terminals.
package jobs

import (
	"time"

	"github.com/shopspring/decimal"
)

// Gang is the set of orders that share one set-up: same die, stock, finish,
// ink set and flags. It is what one lane plan is made for.
type Gang struct {
	ID       string
	Currency string // ISO 4217 code; empty for abstract costs
	Die      Die
	Stock    Stock
	Finishes []Finish
	Press    Press
	Rewinder Rewinder
	Policy   Policy
	Orders   []Order
	// Bare, if not nil, holds the abstract costs of a bare problem; Stock and
	// Press are then zero and no length, area or time is known.
	Bare *BareCosts
	// Rules that concern several versions or the shape of the plan.
	Rules Rules
	// Chart numbers copy positions; nil prints them in words only.
	Chart *WindChart
	// Papers say how the documents for the floor are made.
	Papers Papers
	// Rates and Pricing of the shop, for jobs/price.
	Rates   Rates
	Pricing Pricing
	// Begun, if not nil, says that a part of the work is printed and this gang
	// is the rest of it.
	Begun *Begun
}

// Begun is where the press stands when a rest of work is planned. The zero
// value is a press that has just been set up.
type Begun struct {
	// RollUsed is web that is gone from the parent roll in the press. The
	// set-up's own web comes on top of it.
	RollUsed Length
	// MinutesGone of the press's working time since its Start.
	MinutesGone decimal.Decimal
	// SetupWeb and SetupMinutes of a set-up from nothing; the press of the
	// gang holds what the rest takes before its first section.
	SetupWeb     Length
	SetupMinutes decimal.Decimal
}

// BareCosts are the abstract costs of a bare problem, in no currency.
type BareCosts struct {
	Row, Section, LaneRun decimal.Decimal
}

// Order is what one customer wants at one date; its versions share a die.
type Order struct {
	ID       string
	Customer string
	Due      time.Time // date only, UTC; zero is not stated
	Rush     bool
	Flags    []string // of food, pharma, toy
	Filler   bool     // due later: may be left out of this gang
	Outwork  []Outwork
	Versions []Version
}

// Version is one artwork with one quantity.
type Version struct {
	ID       string // unique in a gang
	Name     string // in words, for people; may be empty
	Artwork  string // file name, never opened as a path by us
	Quantity int    // labels ordered, from 1
	// Unders and Overs are fractions (0.05 is 5 %) that the customer accepts;
	// nil takes the policy's.
	Unders, Overs *decimal.Decimal
	// Fewest and Most labels that the customer takes, in place of Unders and
	// Overs; nil leaves those in force. A Fewest of 0 lets a plan leave the
	// version out, its labels then being short.
	Fewest, Most *int
	// AllOvers says that the customer takes all overs, whatever the policy
	// limits; Overs is then nil.
	AllOvers bool
	// BillOvers says that overs within the tolerance are billed, FreeOvers
	// that they are not whatever the policy says; at most one is set.
	BillOvers, FreeOvers bool
	// UnitPrice billed for one label; zero where not known.
	UnitPrice decimal.Decimal
	// InkPerLabel is money for ink or clicks on one label; zero takes the
	// coverage class's, see Rates.LabelInk.
	InkPerLabel decimal.Decimal
	Coverage    string // id of a class in Rates.Coverage; "" is none
	// ElsewhereCost of printing this version another day, for fillers.
	ElsewhereCost decimal.Decimal

	LeastLanes, MostLanes int
	OnlyLanes             []int // lanes from 1; empty is any
	NotLanes              []int
	OnePiece              bool

	LabelsPerRoll int    // of a customer roll; 0 is by diameter
	MaxDiameter   Length // of a customer roll; 0 is by labels
	Core          Length // nominal inside diameter of the core
	MostSplices   *int   // in one customer roll; nil is no limit
	Wind          Wind
	LeaveOvers    bool // overs are left off the last roll instead of wound on it
}

// Face says on which side of the roll the print is.
type Face int

// The faces.
const (
	FaceUnknown Face = iota
	FaceOut
	FaceIn
)

// Edge is the edge of the copy that leaves the customer's roll first.
type Edge int

// The edges.
const (
	EdgeUnknown Edge = iota
	EdgeTop
	EdgeBottom
	EdgeLeft
	EdgeRight
)

// Wind is the copy position of a customer roll, in words: a bare number is
// ambiguous, since the trade's charts contradict each other.
type Wind struct {
	Face Face
	Edge Edge
}

// Die is the die card of one die.
type Die struct {
	ID                  string
	Across, Around      Length // label size across and along the web
	Lanes               int
	GapAcross           Length
	GapAround           Length
	Web                 Length // width of the web that runs through
	Edge                Length // unprinted edge on each side; 0 is not stated
	ClosedLanes         []int  // out of use, from 1 at the operator's left
	FrameRows           int    // rows that press or die repeats as a whole; 0 is 1
	Teeth               int    // of the die's cylinder; 0 is not stated
	GearPitch           Length // per tooth; 0 is not stated
	PitchesRoundTheTool int    // labels around the cylinder; 0 is not stated
}

// Pitch is one row: label around + gap around.
func (d Die) Pitch() Length { return d.Around + d.GapAround }

// Stock is a self-adhesive material on parent rolls.
type Stock struct {
	ID   string
	Name string
	// PricePerSquareMetre of the whole web, edge trim and gaps included.
	PricePerSquareMetre decimal.Decimal
	Caliper             Length          // whole wound thickness, liner and all
	Grammage            decimal.Decimal // g/m², liner and all
	LinerGrammage       decimal.Decimal // g/m² of that in the liner; 0 is not known
	RollLength          Length          // web on one parent roll; 0 is endless
	SpliceWeb           Length          // web lost at a splice
	SpliceMinutes       decimal.Decimal
	Widths              []Length // that can be had; empty is any
}

// Finish is varnish or laminate.
type Finish struct {
	ID                  string
	Name                string
	PricePerSquareMetre decimal.Decimal
	Caliper             Length
	Grammage            decimal.Decimal
}

// Press prints; times in minutes, money in the gang's currency.
type Press struct {
	ID               string
	Name             string
	Speed            Length // web per minute
	HourlyRate       decimal.Decimal
	Budget           *HourlyBudget // that HourlyRate comes from; nil where the rate is stated itself
	SetupMinutes     decimal.Decimal
	SetupWeb         Length // stated as a length, or computed from SetupFrames
	SetupFrames      *SetupFrames
	ChangeoverMin    decimal.Decimal
	ChangeoverWeb    Length
	LaneRunCost      decimal.Decimal // of starting a version in a lane
	MaxWeb, MinWeb   Length          // 0 is no limit
	Stocks           []string        // ids that it can run; empty is all
	Start            time.Time       // when the press is free; zero is not stated
	HoursADay        decimal.Decimal // 0 is around the clock
	Busy             decimal.Decimal // working minutes after Start that other work takes
	ImpressionCharge decimal.Decimal // of one row of web, e.g. clicks; 0 is none
	RunningWaste     decimal.Decimal // of the sections' web, as a fraction, to pull in reserve; 0 is none
}

// SetupFrames states set-up web as frames to discard before measuring, where
// the first frame is as many whole repeats as reach a stated length (common
// practice, no source).
type SetupFrames struct {
	Reach   Length
	Discard int
}

// Rewinder winds customer rolls.
type Rewinder struct {
	ID           string
	Cores        []Length // nominal inside diameters that its shafts take
	MaxDiameter  Length
	MaxWeight    decimal.Decimal // kg above which two people or a hoist lift
	CoreWall     Length
	CoreDensity  decimal.Decimal // kg/m³ of the material of the cores; 0 is not known
	Leader, Tail Length
	// Windings of the web from the press to the customer's roll; each one
	// turns the leading edge round. 0 is 2: the press winds, then the
	// rewinder does. 1 is slitting in line.
	Windings int
}

// Policy is what the shop has decided for all its work.
type Policy struct {
	Unders, Overs decimal.Decimal // fractions; Overs counts where LimitOvers
	LimitOvers    bool            // false: customers take all overs
	BillOvers     bool
}

// Rules of a gang beyond its versions' own.
type Rules struct {
	Sections, MostSections int
	VersionsPerSection     int
	LeastRows              int
	LeastSection           Length     // the same as a length; 0 is none
	Together, Apart        [][]string // version ids
	WholeRolls             string     // "", WholeRollsPreferred or WholeRollsRequired
	WholeRollSaving        decimal.Decimal
}

// What Rules.WholeRolls may say.
const (
	WholeRollsPreferred = "prefer"
	WholeRollsRequired  = "require"
)
