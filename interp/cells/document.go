package cells

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"calsplice/interp/cells/axes"
	"calsplice/interp/cells/tally"
	"calsplice/tables"
)

// Document writes the grid down as cell averages: for each channel a table of
// each of the [tally.Statistics], the logs behind them, and the exact state that
// [fromDocument] reads back.
func (g *Grid) Document() (*tables.Calibration, error) {
	g.sortSources()
	c := tables.Contents{Kind: tables.Cells, Source: g.sources, State: g.state()}
	x, y := plain(g.x), plain(g.y)
	for _, ch := range g.channels {
		values := make([][]float64, len(tally.Statistics))
		for i := range values {
			values[i] = make([]float64, g.size())
		}
		se := tally.Errors(ch.cells)
		tally.Each(g.size(), func(at int) {
			for i, v := range ch.cells[at].Statistics(g.settings.weight == Nearest, se[at]) {
				values[i][at] = v
			}
		})
		for i, name := range tally.Statistics {
			t, err := tables.NewTable(tables.Fields{ID: ch.name + "." + name,
				Title: title(ch.name, name), Unit: statisticUnit(name, ch.unit), X: x, Y: y, Values: values[i]})
			if err != nil {
				return nil, fmt.Errorf("channel %s: %w", tables.Quote(ch.name), err)
			}
			c.Tables = append(c.Tables, t)
		}
		if ch.surface != nil {
			list, err := g.surfaceTables(&ch)
			if err != nil {
				return nil, err
			}
			c.Tables = append(c.Tables, list...)
		}
	}
	return tables.NewCalibration(c)
}

func plain(a *axes.Axis) *tables.Axis {
	if a == nil {
		return nil
	}
	return a.Axis
}

func title(channel, statistic string) string {
	name := strings.ReplaceAll(channel, "_", " ")
	switch statistic {
	case "sd":
		statistic = "standard deviation"
	case "se":
		statistic = "standard error of the mean"
	case "p95":
		statistic = "95th percentile"
	case "surface":
		statistic = "smooth surface"
	case "surface_se":
		statistic = "standard error of the surface"
	case "filled":
		statistic = "1 where the surface has no samples"
	case "at_limit":
		statistic = "share at the trim's limit"
	}
	return name + ": " + statistic
}

// statisticUnit is the unit of a statistic of a channel: counts and shares are
// plain numbers.
func statisticUnit(statistic, channelUnit string) string {
	switch statistic {
	case "count", "visits", "at_limit", "filled":
		return "1"
	}
	return channelUnit
}

// sortSources brings the logs into an order that does not depend on who was
// read first.
func (g *Grid) sortSources() {
	slices.SortStableFunc(g.sources, func(a, b tables.Source) int {
		return cmp.Or(cmp.Compare(a.Name, b.Name), cmp.Compare(a.SHA256, b.SHA256),
			cmp.Compare(a.Rows, b.Rows), cmp.Compare(a.Kept, b.Kept))
	})
}
