package cells

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"calsplice/interp/cells/tally"
	"calsplice/tables"
)

// Document writes the grid down as cell averages: for each channel a table of
// each of the [tally.Statistics], the logs behind them, and the exact state that
// [fromDocument] reads back.
func (g *Grid) Document() (*tables.Calibration, error) {
	// Whoever reads the same logs gets the same bytes, however many workers read them.
	g.sortSources()
	c := tables.Contents{Kind: tables.Cells, Source: g.sources, State: g.state()}
	for _, ch := range g.channels {
		values := make([][]float64, len(tally.Statistics))
		for i := range values {
			values[i] = make([]float64, g.size())
		}
		// The errors of all cells go together, for how long the readings hang together is
		// estimated from the whole channel.
		se := tally.Errors(ch.cells)
		tally.Each(g.size(), func(at int) {
			for i, v := range ch.cells[at].Statistics(g.settings.Weight != Spread, se[at]) {
				values[i][at] = v
			}
		})
		for i, name := range tally.Statistics {
			t, err := g.statisticTable(&ch, name, values[i])
			if err != nil {
				return nil, err
			}
			c.Tables = append(c.Tables, t)
		}
	}
	return tables.NewCalibration(c)
}

// Ids are for programs and never change; titles are for people.

// words are what a statistic is called in a title, where its own name does not say it.
var words = map[string]string{
	"sd": "standard deviation", "se": "standard error of the mean", "p95": "95th percentile",
	"at_limit": "share at the trim's limit",
}

// statisticTable is the table of one statistic of a channel.
func (g *Grid) statisticTable(ch *channel, statistic string, values []float64) (*tables.Table, error) {
	t, err := tables.NewTable(tables.Fields{ID: ch.name + "." + statistic,
		Title: strings.ReplaceAll(ch.name, "_", " ") + ": " + cmp.Or(words[statistic], statistic),
		Unit:  statisticUnit(statistic, ch.unit), X: g.x.Axis, Y: g.y.Axis, Values: values})
	if err != nil {
		return nil, fmt.Errorf("channel %s: %w", tables.Quote(ch.name), err)
	}
	return t, nil
}

// statisticUnit is the unit of a statistic of a channel: counts and shares are
// plain numbers.
func statisticUnit(statistic, channelUnit string) string {
	switch statistic {
	case "count", "visits", "at_limit":
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
