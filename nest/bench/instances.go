package bench

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strconv"

	"laneplan/nest"
)

// Quantities says how the ordered quantities of an instance are spread.
type Quantities string

// The spreads.
const (
	// Lognormal has a median of 2,000 labels and, as label work has, a few
	// orders many times larger; rounded to tens.
	Lognormal Quantities = "lognormal"
	// Round draws from the round numbers that customers like, so that many
	// versions are equal.
	Round Quantities = "round"
	// Spread is even from 100 to 10,000, to the label.
	Spread Quantities = "spread"
)

var roundQuantities = []int{250, 500, 500, 750, 1000, 1000, 1000, 1500, 2000, 2000, 2500, 3000, 4000, 5000, 5000, 6000, 8000, 10000}

// Spec draws one instance; the same Spec always draws the same.
type Spec struct {
	Versions, Lanes int
	Quantities      Quantities
	// SectionRows is the section cost in rows: what a changeover costs
	// against a row of web, which costs 1.
	SectionRows int
	// LaneRunRows is the cost of a lane run in rows; 0 is none.
	LaneRunRows int
	Seed        uint64
}

// Name tells the instance's versions, lanes, spread and costs.
func (s Spec) Name() string {
	name := fmt.Sprintf("v%03d-l%02d-%s-s%04d", s.Versions, s.Lanes, s.Quantities, s.SectionRows)
	if s.LaneRunRows > 0 {
		name += fmt.Sprintf("-r%03d", s.LaneRunRows)
	}
	return name
}

// Problem draws the instance.
func (s Spec) Problem() nest.Problem {
	rng := rand.New(rand.NewPCG(s.Seed, uint64(s.Versions*1000+s.Lanes)))
	p := nest.Problem{
		Lanes: s.Lanes,
		Costs: nest.Costs{Row: 1, Section: float64(s.SectionRows), LaneRun: float64(s.LaneRunRows)},
	}
	for i := range s.Versions {
		p.Versions = append(p.Versions, nest.Version{ID: fmt.Sprintf("V%03d", i+1), Quantity: s.quantity(rng)})
	}
	return p
}

func (s Spec) quantity(rng *rand.Rand) int {
	switch s.Quantities {
	case Lognormal:
		return max(50, 10*int(math.Round(200*math.Exp(0.9*rng.NormFloat64()))))
	case Round:
		return roundQuantities[rng.IntN(len(roundQuantities))]
	default:
		return 100 + rng.IntN(9901)
	}
}

// Instances are the benchmark's own set: 6 to 200 versions on 3 to 12 lanes,
// three spreads of quantities, changeovers from 50 to 2,500 rows.
func Instances() []Spec {
	specs := []Spec{
		{Versions: 6, Lanes: 3, Quantities: Lognormal, SectionRows: 300},
		{Versions: 6, Lanes: 4, Quantities: Round, SectionRows: 1000},
		{Versions: 8, Lanes: 4, Quantities: Spread, SectionRows: 1000},
		{Versions: 8, Lanes: 6, Quantities: Lognormal, SectionRows: 300},
		{Versions: 10, Lanes: 3, Quantities: Round, SectionRows: 300},
		{Versions: 10, Lanes: 5, Quantities: Lognormal, SectionRows: 1000},
		{Versions: 12, Lanes: 4, Quantities: Lognormal, SectionRows: 300},
		{Versions: 12, Lanes: 8, Quantities: Spread, SectionRows: 300},
		{Versions: 14, Lanes: 4, Quantities: Round, SectionRows: 300, LaneRunRows: 20},
		{Versions: 16, Lanes: 5, Quantities: Lognormal, SectionRows: 1000},
		{Versions: 16, Lanes: 12, Quantities: Lognormal, SectionRows: 100},
		{Versions: 20, Lanes: 4, Quantities: Spread, SectionRows: 300},
		{Versions: 20, Lanes: 6, Quantities: Round, SectionRows: 1000},
		{Versions: 24, Lanes: 4, Quantities: Lognormal, SectionRows: 1000},
		{Versions: 24, Lanes: 8, Quantities: Lognormal, SectionRows: 300, LaneRunRows: 10},
		{Versions: 30, Lanes: 3, Quantities: Lognormal, SectionRows: 2500},
		{Versions: 30, Lanes: 6, Quantities: Spread, SectionRows: 300},
		{Versions: 40, Lanes: 4, Quantities: Lognormal, SectionRows: 300},
		{Versions: 40, Lanes: 10, Quantities: Round, SectionRows: 300},
		{Versions: 50, Lanes: 5, Quantities: Lognormal, SectionRows: 1000},
		{Versions: 60, Lanes: 4, Quantities: Round, SectionRows: 300},
		{Versions: 60, Lanes: 8, Quantities: Lognormal, SectionRows: 300},
		{Versions: 80, Lanes: 6, Quantities: Spread, SectionRows: 300, LaneRunRows: 20},
		{Versions: 100, Lanes: 4, Quantities: Lognormal, SectionRows: 300},
		{Versions: 100, Lanes: 12, Quantities: Round, SectionRows: 1000},
		{Versions: 120, Lanes: 8, Quantities: Lognormal, SectionRows: 100},
		{Versions: 150, Lanes: 6, Quantities: Lognormal, SectionRows: 1000},
		{Versions: 200, Lanes: 5, Quantities: Lognormal, SectionRows: 300},
		{Versions: 200, Lanes: 12, Quantities: Spread, SectionRows: 50},
	}
	for i := range specs {
		specs[i].Seed = uint64(i + 1)
	}
	return specs
}

// Twelve are instances of twelve versions on three and four lanes, which mostly
// want no more than six sections: small enough that a proof is asked of each.
func Twelve() []Spec {
	var specs []Spec
	for _, lanes := range []int{3, 4} {
		for _, quantities := range []Quantities{Lognormal, Round, Spread} {
			for _, section := range []int{100, 300, 1000, 2500} {
				specs = append(specs, Spec{Versions: 12, Lanes: lanes, Quantities: quantities, SectionRows: section, Seed: uint64(200 + len(specs))})
			}
		}
	}
	return specs
}

// Growth are the instances that show how the work grows with the versions: 10
// to 400 of them on 4, 8 and 12 lanes, all else alike, the smallest first.
func Growth() []Spec {
	var specs []Spec
	for _, versions := range []int{10, 20, 40, 80, 160, 320, 400} {
		for _, lanes := range []int{4, 8, 12} {
			specs = append(specs, Spec{Versions: versions, Lanes: lanes, Quantities: Lognormal, SectionRows: 300, Seed: 100})
		}
	}
	return specs
}

// WriteBare writes an instance as a bare problem in YAML: what a bare problem
// can say of it are lanes, costs and quantities.
func (s Spec) WriteBare(w io.Writer) error {
	out := bufio.NewWriter(w)
	p := s.Problem()
	fmt.Fprintf(out, "# Drawn by nest/bench, seed %d: no orders of anyone.\n", s.Seed)
	fmt.Fprintf(out, "laneplan: 1\nlanes: %d\n", p.Lanes)
	fmt.Fprintf(out, "costs: {row: %s, section: %s", plain(p.Costs.Row), plain(p.Costs.Section))
	if p.Costs.LaneRun > 0 {
		fmt.Fprintf(out, ", lane_run: %s", plain(p.Costs.LaneRun))
	}
	fmt.Fprintf(out, "}\nversions:\n")
	for _, v := range p.Versions {
		fmt.Fprintf(out, "  - {id: %s, quantity: %d}\n", v.ID, v.Quantity)
	}
	if err := out.Flush(); err != nil {
		return fmt.Errorf("write %s: %w", s.Name(), err)
	}
	return nil
}

func plain(money float64) string { return strconv.FormatFloat(money, 'f', -1, 64) }
