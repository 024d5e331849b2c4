package jobs

import "github.com/shopspring/decimal"

// Tolerance is what a customer takes of one version. The zero value takes all
// overs unbilled and no unders.
type Tolerance struct {
	Unders, Overs decimal.Decimal // fractions of what is ordered
	LimitOvers    bool            // false: all overs are taken
	BillOvers     bool            // overs within the limit are billed
	// Least and Greatest, if not nil, are numbers of labels in the place of
	// the fractions, as Version.Fewest and Most.
	Least, Greatest *int
}

// Tolerance of a version: its own where it states one, else the policy's.
func (g Gang) Tolerance(v Version) Tolerance {
	t := Tolerance{
		Unders: g.Policy.Unders, Overs: g.Policy.Overs,
		LimitOvers: g.Policy.LimitOvers, BillOvers: g.Policy.BillOvers,
	}
	if v.Unders != nil {
		t.Unders = *v.Unders
	}
	switch {
	case v.Overs != nil:
		t.Overs, t.LimitOvers = *v.Overs, true
	case v.AllOvers:
		t.LimitOvers = false
	}
	if !t.LimitOvers {
		t.Overs = decimal.Zero
	}
	t.Least, t.Greatest = v.Fewest, v.Most
	t.LimitOvers = t.LimitOvers || v.Most != nil
	t.BillOvers = (t.BillOvers || v.BillOvers) && !v.FreeOvers
	return t
}

var one = decimal.NewFromInt(1)

// Optional says that a version may be left out.
func (t Tolerance) Optional() bool { return t.Least != nil && *t.Least == 0 }

// Fewest labels that the customer takes, rounded up to a whole label, at
// least 1.
func (t Tolerance) Fewest(ordered int) int {
	if t.Least != nil {
		return max(1, *t.Least)
	}
	fewest := decimal.NewFromInt(int64(ordered)).Mul(one.Sub(t.Unders)).Ceil()
	return max(1, int(fewest.IntPart()))
}

// Most labels that the customer takes, rounded down to a whole label; 0 is no
// limit.
func (t Tolerance) Most(ordered int) int {
	if !t.LimitOvers {
		return 0
	}
	if t.Greatest != nil {
		return *t.Greatest
	}
	most := decimal.NewFromInt(int64(ordered)).Mul(one.Add(t.Overs)).Floor()
	return int(most.IntPart())
}

// Billed labels of what is delivered: all that is delivered up to what is
// ordered, and overs only where they are billed, within the limit. Source of
// the rule that a difference within the tolerance is billed or credited:
// KVGO delivery conditions (1992), article 13.
func (t Tolerance) Billed(ordered, delivered int) int {
	if delivered <= ordered || !t.BillOvers {
		return min(ordered, delivered)
	}
	if !t.LimitOvers {
		return delivered
	}
	return min(delivered, t.Most(ordered))
}
