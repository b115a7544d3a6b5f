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
// usual spread (the median of the absolute deviations of all bends, made
// comparable to a standard deviation) and the smallest step that the values
// are written in, and a twentieth of the table's span. In a map it must stand
// out in both directions, as far as there are neighbours to tell: a ridge along
// an axis is the engine's business.
func (k *checker) neighbours(t *tables.Table) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range t.Values() {
		low, high = min(low, v), max(high, v)
	}
	span := high - low
	if !(span > 0) || math.IsInf(span, 0) {
		return
	}
	across, down := spikes(t, alongX(t), span), spikes(t, alongY(t), span)
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

func spikes(t *tables.Table, lines []line, span float64) map[int]verdict {
	told := map[int]verdict{}
	var bends []float64
	for _, l := range lines {
		for i := 1; l.len() >= fewest && i < l.len()-1; i++ {
			bends = append(bends, l.bend(i))
		}
	}
	if len(bends) < fewest {
		return told
	}
	middle := median(bends)
	away := make([]float64, len(bends))
	for i, b := range bends {
		away[i] = math.Abs(b - middle)
	}
	usual := 1.4826*median(away) + step(t)
	for _, l := range lines {
		for i := 1; l.len() >= fewest && i < l.len()-1; i++ {
			told[l.at[i]] = smooth
			if b := math.Abs(l.bend(i)); b > 6*usual && b > span/20 && l.alone(i) {
				told[l.at[i]] = spike
			}
		}
	}
	return told
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
