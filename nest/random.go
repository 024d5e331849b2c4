package nest

import (
	"math"
	"math/bits"
)

// random is a small generator of its own so that a search draws in a
// nanosecond and the same seed gives the same plan in every Go version.
// The step is SplitMix64 (Steele, Lea, Flood, 2014; constants from memory).
type random struct{ state uint64 }

func newRandom(seed int64, stream int) *random {
	r := &random{uint64(seed)*0x9e3779b97f4a7c15 + uint64(stream)*0xd1b54a32d192ed03 + 1}
	r.next()
	return r
}

func (r *random) next() uint64 {
	r.state += 0x9e3779b97f4a7c15
	z := r.state
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// below draws from 0 to n-1; n from 1.
func (r *random) below(n int) int {
	hi, _ := bits.Mul64(r.next(), uint64(n))
	return int(hi)
}

// unit draws from [0, 1).
func (r *random) unit() float64 { return float64(r.next()>>11) / (1 << 53) }

// thresholds holds -ln(u) for evenly spread u: how much worse, in units of
// the temperature, a move may be and still be taken.
var thresholds = func() (t [4096]float64) {
	for i := range t {
		t[i] = -math.Log1p((float64(i)+0.5)/4096 - 1)
	}
	return t
}()

func (r *random) threshold() float64 { return thresholds[r.next()>>52] }
