package view

import (
	"fmt"
	"math"

	"calsplice/interp/cells"
	"calsplice/tables"
)

const (
	knockRetard = cells.KnockRetard
	noiseRetard = 1.0 // degrees: under it now and then is sensor noise (common practice, no source)
)

// retardWords says whether a drive's knock retard is noise or more, by its mean
// and its worst cell.
func retardWords(mean, worst float64, at string) string {
	what := "no more than sensor noise"
	if worst >= noiseRetard || mean >= noiseRetard {
		what = "more than sensor noise"
	}
	return fmt.Sprintf("retard is %s: mean %s deg, worst %s deg at %s (under about 1 deg now and then is noise: common practice, no source)",
		what, tables.Fixed(mean, 2), tables.Fixed(worst, 2), at)
}

// retard judges knock retard by the mean of all cells and the worst cell that
// has enough evidence: by its 95th percentile, or its mean where that is not
// given.
func (ch channel) retard() string {
	mean, worst := ch.table("mean"), ch.table("p95")
	if worst == nil {
		worst = mean
	}
	count, visits := ch.table("count"), ch.table("visits")
	if ch.name != knockRetard || mean == nil || count == nil {
		return ""
	}
	sum, n, at := 0.0, 0.0, -1
	for i, v := range mean.Values() {
		k := count.Values()[i]
		if math.IsNaN(v) || !(k > 0) {
			continue
		}
		sum, n = sum+float64(k*v), n+k
		row, column := i/mean.Columns(), i%mean.Columns()
		if k >= fewSamples && (visits == nil || valueAt(visits, row, column) >= fewVisits) && (at < 0 || worst.Values()[i] > worst.Values()[at]) {
			at = i
		}
	}
	switch {
	case n == 0:
		return ""
	case at < 0:
		return fmt.Sprintf("retard: mean %s deg; no cell has enough samples and visits to say more", tables.Fixed(sum/n, 2))
	}
	return retardWords(sum/n, worst.Values()[at], mean.Where(at))
}
