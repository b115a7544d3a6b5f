package plausible

import (
	"math"

	"calsplice/tables"
)

// neighbours finds single cells that stand out from those around them: typing
// errors, slips of a finger in a row of numbers.
//
// A cell stands out along a line where it bends the line one way and both cells
// beside it bend the other way, as a spike does and neither a step, a kink nor a
// curve; and where its bend is beyond what is usual in the table: six times the
// usual spread (by the median of the absolute deviations of all bends) and the smallest step that the values
// are written in, and a twentieth of the table's span. In a map it must stand
// out in both directions, as far as there are neighbours to tell: a ridge along
// an axis is the engine's business.
func (k *checker) neighbours(t *tables.Table) {
	low, high := tables.Range(t.Values())
	span := high - low
	if !(span > 0) || math.IsInf(span, 0) {
		return
	}
	// By the spread of the bends and not of the values: a steep table bends little, a typing
	// error bends much.
	across, down := spikes(t, along(t, 0), span), spikes(t, along(t, 1), span)
	n := t.Columns()
	for i, v := range t.Values() {
		x, y := across[i], down[i]
		// Where one direction has too few neighbours to tell, the lines beside
		// this one do: a spike that all of them have is a ridge.
		ridge := y == unknown && (across[i-n] == spike || across[i+n] == spike) ||
			x == unknown && (i%n > 0 && down[i-1] == spike || i%n < n-1 && down[i+1] == spike)
		if (x == spike && y != smooth || y == spike && x != smooth) && !ridge {
			k.cell(t, i, "neighbours", "the table's own values, by median and median absolute deviation",
				"%s stands out from the values beside it", amount(v, t.Unit()))
		}
	}
}

// verdict is what one direction says of a cell.
type verdict uint8

const (
	unknown verdict = iota // too few neighbours in this direction
	smooth
	spike
)

const fewest = 5 // values of a line that tell a spike from a shape

// others is how many other bends tell what is usual, at least.
const others = 3

// spikes judges each inner value of some lines, by its place in the table.
func spikes(t *tables.Table, lines []line, span float64) map[int]verdict {
	verdicts := map[int]verdict{}
	all := bends(lines, nil, 0)
	usual := spread(all) + step(t)
	for _, l := range lines {
		for i := 1; l.len() >= fewest && i < l.len()-1; i++ {
			limit := usual
			if len(all) < 50 {
				// Among few, a spike and the bends beside it would make
				// themselves usual.
				rest := bends(lines, l.at, i)
				if len(rest) < others {
					continue
				}
				limit = spread(rest) + step(t)
			}
			verdicts[l.at[i]] = smooth
			if b := math.Abs(l.bend(i)); b > 6*limit && b > span/20 && l.alone(i) {
				verdicts[l.at[i]] = spike
			}
		}
	}
	return verdicts
}

// bends lists how much each line bends at each of its inner values, but for one
// line at its i-th value and beside it.
func bends(lines []line, but []int, i int) []float64 {
	var all []float64
	for _, l := range lines {
		for j := 1; l.len() >= fewest && j < l.len()-1; j++ {
			if but == nil || l.at[0] != but[0] || j < i-1 || j > i+1 {
				all = append(all, l.bend(j))
			}
		}
	}
	return all
}

// spread is the median of the absolute deviations from the median, made
// comparable to a standard deviation.
func spread(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	middle := median(v)
	away := make([]float64, len(v))
	for i, b := range v {
		away[i] = math.Abs(b - middle)
	}
	return 1.4826 * median(away)
}

// alone reports whether both neighbours bend the other way, each by a good part
// of what the i-th value does: a spike's neighbours by half of it. Beside an end
// there is one neighbour to tell, which bends by as much where a step begins.
func (l line) alone(i int) bool {
	b := l.bend(i)
	share := func(j int) float64 { return -l.bend(j) / b }
	first, last := i == 1, i == l.len()-2
	switch {
	case first && last:
		return false
	case first:
		return share(i+1) > 0.2 && share(i+1) < 0.8
	case last:
		return share(i-1) > 0.2 && share(i-1) < 0.8
	}
	return share(i-1) > 0.2 && share(i+1) > 0.2
}
