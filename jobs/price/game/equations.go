package game

import "math"

// equations is a set of independent linear equations x(S) = value over the
// shares, with the reduced rows kept to test others against.
type equations struct {
	list    []equation
	reduced [][]float64 // row echelon, pivot scaled to 1
	pivots  []int
}

type equation struct {
	coalition Coalition
	value     float64
}

func (e *equations) rank() int { return len(e.list) }

// independent tells whether x(S) is left open by the equations.
func (e *equations) independent(c Coalition, players int) bool {
	_, pivot := e.reduce(c, players)
	return pivot >= 0
}

// add takes in x(S) = value unless the equations determine x(S) already.
func (e *equations) add(c Coalition, value float64, players int) {
	row, pivot := e.reduce(c, players)
	if pivot < 0 {
		return
	}
	by := row[pivot]
	for i := range row {
		row[i] /= by
	}
	e.list = append(e.list, equation{c, value})
	e.reduced = append(e.reduced, row)
	e.pivots = append(e.pivots, pivot)
}

// reduce subtracts the reduced rows from S's indicator and returns the rest
// with the column of its largest entry, or -1 where nothing is left. Entries
// are fractions with denominators below 10^5 up to 16 players (the largest
// determinant of a 0-1 matrix of that order), so the tolerance is safe.
func (e *equations) reduce(c Coalition, players int) ([]float64, int) {
	row := make([]float64, players)
	for i := range players {
		if c.Has(i) {
			row[i] = 1
		}
	}
	for k, pivot := range e.pivots {
		if by := row[pivot]; by != 0 {
			for i, value := range e.reduced[k] {
				row[i] -= by * value
			}
			row[pivot] = 0
		}
	}
	best := -1
	for i, value := range row {
		if math.Abs(value) > fixedTolerance && (best < 0 || math.Abs(value) > math.Abs(row[best])) {
			best = i
		}
	}
	return row, best
}

// solve returns the one solution of as many independent equations as
// players, by Gaussian elimination with row pivoting.
func (e *equations) solve(players int) []float64 {
	a := make([][]float64, players)
	for k, eq := range e.list {
		a[k] = make([]float64, players+1)
		for i := range players {
			if eq.coalition.Has(i) {
				a[k][i] = 1
			}
		}
		a[k][players] = eq.value
	}
	for column := range players {
		best := column
		for k := column + 1; k < players; k++ {
			if math.Abs(a[k][column]) > math.Abs(a[best][column]) {
				best = k
			}
		}
		a[column], a[best] = a[best], a[column]
		for k := range players {
			if k == column {
				continue
			}
			by := a[k][column] / a[column][column]
			for i := column; i <= players; i++ {
				a[k][i] -= by * a[column][i]
			}
		}
	}
	shares := make([]float64, players)
	for i := range shares {
		shares[i] = a[i][players] / a[i][i]
	}
	return shares
}
