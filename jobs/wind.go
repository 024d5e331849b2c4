package jobs

import (
	"fmt"
	"slices"
	"strconv"
)

// String names the face in the words of an order: out, in, or not stated.
func (f Face) String() string {
	switch f {
	case FaceOut:
		return "out"
	case FaceIn:
		return "in"
	default:
		return "not stated"
	}
}

// String names the edge in the words of an order.
func (e Edge) String() string {
	switch e {
	case EdgeTop:
		return "top"
	case EdgeBottom:
		return "bottom"
	case EdgeLeft:
		return "left"
	case EdgeRight:
		return "right"
	default:
		return "not stated"
	}
}

// Opposite is the edge that leads after one more winding: the last label
// wound is the first to come off.
func (e Edge) Opposite() Edge {
	switch e {
	case EdgeTop:
		return EdgeBottom
	case EdgeBottom:
		return EdgeTop
	case EdgeLeft:
		return EdgeRight
	case EdgeRight:
		return EdgeLeft
	default:
		return EdgeUnknown
	}
}

// String gives the copy position in words, such as "face out, top first".
func (w Wind) String() string {
	switch {
	case w == Wind{}:
		return "not stated"
	case w.Edge == EdgeUnknown:
		return "face " + w.Face.String()
	case w.Face == FaceUnknown:
		return w.Edge.String() + " first"
	default:
		return "face " + w.Face.String() + ", " + w.Edge.String() + " first"
	}
}

// WindChart numbers copy positions the way one shop or one customer does.
// There is no chart of our own: published charts contradict each other on
// which edge a number means, and a wrong one turns every roll upside down.
type WindChart struct {
	Name    string // printed beside every number
	Numbers map[int]Wind
}

// Check refuses a chart without a name or with a position that is unfinished
// or numbered twice.
func (c *WindChart) Check() error {
	if c.Name == "" {
		return fmt.Errorf("a chart of copy positions needs a name, to be printed beside its numbers")
	}
	seen := map[Wind]int{}
	for _, number := range c.numbers() {
		w := c.Numbers[number]
		if w.Face == FaceUnknown || w.Edge == EdgeUnknown {
			return fmt.Errorf("chart %q: position %d wants a face (out or in) and an edge (top, bottom, left or right)", c.Name, number)
		}
		if first, twice := seen[w]; twice {
			return fmt.Errorf("chart %q: positions %d and %d are both %s", c.Name, first, number, w)
		}
		seen[w] = number
	}
	return nil
}

// Number of a copy position. A nil chart has none.
func (c *WindChart) Number(w Wind) (int, bool) {
	if c == nil {
		return 0, false
	}
	for _, number := range c.numbers() {
		if c.Numbers[number] == w {
			return number, true
		}
	}
	return 0, false
}

// Wind of a number, which means nothing without a chart.
func (c *WindChart) Wind(number int) (Wind, error) {
	if c == nil {
		return Wind{}, fmt.Errorf("copy position %d has no chart: want it in words such as out/top, or a chart in the shop file", number)
	}
	w, known := c.Numbers[number]
	if !known {
		return Wind{}, fmt.Errorf("chart %q has no copy position %d", c.Name, number)
	}
	return w, nil
}

func (c *WindChart) numbers() []int {
	numbers := make([]int, 0, len(c.Numbers))
	for number := range c.Numbers {
		numbers = append(numbers, number)
	}
	slices.Sort(numbers)
	return numbers
}

// ParseWind reads a copy position in words: face, a slash, and the edge that
// leaves the roll first, such as out/top or in/left.
func ParseWind(text string) (Wind, error) {
	for _, face := range []Face{FaceOut, FaceIn} {
		for _, edge := range []Edge{EdgeTop, EdgeBottom, EdgeLeft, EdgeRight} {
			if w := (Wind{Face: face, Edge: edge}); w.Text() == text {
				return w, nil
			}
		}
	}
	if _, err := strconv.Atoi(text); err == nil {
		return Wind{}, fmt.Errorf("want a copy position in words such as out/top, got the number %s: charts of numbers contradict each other", text)
	}
	return Wind{}, fmt.Errorf("want face/edge such as out/top (faces: out, in; edges: top, bottom, left, right), got %q", text)
}

// Text is the copy position as files write it, such as out/top; empty where
// it is not stated in full.
func (w Wind) Text() string {
	if w.Face == FaceUnknown || w.Edge == EdgeUnknown {
		return ""
	}
	return w.Face.String() + "/" + w.Edge.String()
}
