package rewind

import (
	"slices"

	"laneplan/jobs"
)

// wind strips, in web order, into rolls; what is not wound is returned too.
func (v *Version) wind(strips []Piece, web Web) (rolls [][]Piece, left []Piece) {
	for _, s := range strips {
		v.Planned += s.Labels()
	}
	target := v.target()
	if target == 0 {
		return nil, strips
	}
	per := v.LabelsPerRoll
	if per == 0 {
		per = target // nothing stated: one roll
	}
	p := pool{web: web, per: per, most: v.MostSplices, target: target}
	for _, s := range strips {
		p.fullRolls(s)
	}
	for p.target > 0 && len(p.rest) > 0 {
		p.joinedRoll()
	}
	return p.rolls, p.rest
}

// pool is the state of one version's winding.
type pool struct {
	web    Web
	per    int // labels on a full roll
	most   int // splices in a roll; -1 is no limit
	target int // labels still to wind
	rolls  [][]Piece
	rest   []Piece // pieces not wound yet, in web order
}

// fullRolls winds as many rolls without a join as a strip gives and keeps the
// rest.
func (p *pool) fullRolls(strip Piece) {
	for p.target >= p.per && strip.Labels() >= p.per {
		roll := p.cut(strip, strip.From, strip.From+p.per)
		if p.most >= 0 && len(roll.Splices) > p.most {
			p.rest = append(p.rest, p.cut(strip, strip.From, roll.Splices[0]))
			strip = p.cut(strip, roll.Splices[0], strip.To)
			continue
		}
		p.rolls = append(p.rolls, []Piece{roll})
		p.target -= p.per
		if strip.Labels() == p.per {
			return
		}
		strip = p.cut(strip, roll.To, strip.To)
	}
	p.rest = append(p.rest, strip)
}

// joinedRoll winds one roll from the pieces that are left, full or as full as
// the splices allow. There is at least one piece.
func (p *pool) joinedRoll() {
	var roll []Piece
	need, splices := min(p.per, p.target), 0
	for need > 0 && len(p.rest) > 0 {
		joins := min(len(roll), 1)
		allowed := -1
		if p.most >= 0 {
			allowed = p.most - splices - joins
			if allowed < 0 {
				break
			}
		}
		i, take := p.choose(need, allowed)
		piece := p.cut(p.rest[i], p.rest[i].From, p.rest[i].From+take)
		if piece.To < p.rest[i].To {
			p.rest[i] = p.cut(p.rest[i], piece.To, p.rest[i].To)
		} else {
			p.rest = slices.Delete(p.rest, i, i+1)
		}
		roll = append(roll, piece)
		splices += joins + len(piece.Splices)
		need -= take
		p.target -= take
	}
	p.rolls = append(p.rolls, roll)
}

// choose a piece for a roll that lacks need labels: the shortest piece that
// completes it, else the one that gives most. take is how much of it, with no
// more than allowed splices inside.
func (p *pool) choose(need, allowed int) (index, take int) {
	completes := -1
	for i, piece := range p.rest {
		gives := min(piece.Labels(), need)
		if inside := piece.Splices; allowed >= 0 && len(inside) > allowed {
			gives = min(gives, inside[allowed]-piece.From)
		}
		if gives == need && (completes < 0 || piece.Labels() < p.rest[completes].Labels()) {
			completes = i
		}
		if gives > take {
			index, take = i, gives
		}
	}
	if completes >= 0 {
		return completes, need
	}
	return index, take
}

func (p *pool) cut(of Piece, from, to int) Piece { return p.web.piece(of.Version, of.Lane, from, to) }

// finish numbers a version's rolls and measures them.
func (v *Version) finish(g jobs.Gang, wound [][]Piece) []Roll {
	rolls := make([]Roll, len(wound))
	before := 0 // labels on the rolls before
	for i, pieces := range wound {
		r := Roll{Key: rollKey(g.ID, v.Index+1, i+1), Version: v.Index, Number: i + 1, Of: len(wound), Pieces: pieces,
			Joins: len(pieces) - 1, Splices: len(pieces) - 1, Core: v.Core}
		for _, p := range pieces {
			r.Labels += p.Labels()
			r.Splices += len(p.Splices)
		}
		r.Overs = min(max(before+r.Labels-v.Ordered, 0), r.Labels)
		r.Full = r.Labels == v.LabelsPerRoll || v.LabelsPerRoll == 0
		r.measure(g)
		before += r.Labels
		if r.Full {
			v.FullRolls++
		} else {
			v.PartRolls++
		}
		rolls[i] = r
	}
	v.Wound = before
	v.LeftOff = v.Planned - v.Wound
	v.Overs = max(v.Wound-v.Ordered, 0)
	if v.LeftOut = v.Filler && v.Planned == 0; !v.LeftOut {
		v.Unders = max(v.Ordered-v.Wound, 0)
	}
	return rolls
}

// measure length, diameter and weight.
func (r *Roll) measure(g jobs.Gang) {
	if g.Bare != nil {
		return
	}
	r.Length = jobs.Length(r.Labels)*g.Die.Pitch() + g.Rewinder.Leader + g.Rewinder.Tail
	if caliper := woundCaliper(g); caliper > 0 && r.Core > 0 {
		r.Diameter = OutsideDiameter(r.Length, coreOutside(g, r.Core), caliper)
	}
	r.Kilograms = r.weight(g)
	limit := g.Rewinder.MaxWeight.InexactFloat64()
	r.Heavy = limit > 0 && r.Kilograms > limit
}
