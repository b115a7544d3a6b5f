package cells

import (
	"errors"
	"fmt"
	"math"

	"calsplice/interp/cells/tally"
	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/unit"
)

// errEdited says that a document's tables were changed after its cells were
// gathered, so that they are no longer what its exact state gives.
var errEdited = errors.New("is not what the exact state of its cells gives: it was changed after they were gathered")

// A document says everything twice: in its tables, which people read and edit, and in its
// state, which adds up exactly. Only those statistics that the state gives without a
// computation of its own are held against it; they are enough to notice an edit.

// recorded holds a channel's statistics as written in the file, to compare with
// its exact state.
type recorded []recordedTable

// recordedTable is one statistic of a channel, as the file has it.
type recordedTable struct {
	id     string
	values []float64
	own    unit.Conversion // from the channel's own unit, which the state is in
}

// readRecorded reads the recorded statistics of all channels, by name.
func readRecorded(doc *tables.Calibration) (map[string]recorded, error) {
	all := map[string]recorded{}
	for _, name := range Channels(doc) {
		t, err := recordedFor(doc, name)
		if err != nil {
			return nil, err
		}
		all[name] = t
	}
	return all, nil
}

// recordedFor reads those tables of a channel that its state gives directly: count,
// mean, min, max and visits, as far as they are there.
func recordedFor(doc *tables.Calibration, channel string) (recorded, error) {
	list := make(recorded, 5)
	for i, statistic := range []string{"count", "mean", "min", "max", "visits"} {
		t := doc.Table(channel + "." + statistic)
		if t == nil {
			continue
		}
		list[i] = recordedTable{t.ID(), t.Values(), unit.Conversion{Mul: 1, Div: 1}}
		if own := statisticUnit(statistic, drivelog.ChannelUnit(channel)); !unit.Same(own, t.Unit()) {
			c, err := unit.Find(own, t.Unit())
			if err != nil {
				return nil, fmt.Errorf("table %s is in %s, and its state in %s: %w", t.ID(), tables.Quote(t.Unit()), tables.Quote(own), errEdited)
			}
			list[i].own = c
		}
	}
	return list, nil
}

// converted is the first table that is not in the channel's own unit; "" is none.
func (t recorded) converted() string {
	for _, table := range t {
		if !table.own.Identity() {
			return table.id
		}
	}
	return ""
}

// agree holds one cell of the exact state to the tables, to nine digits: a
// spreadsheet keeps fifteen.
func (t recorded) agree(at int, c *tally.Cell) error {
	is := c.Simple()
	// A mean near 0 of readings that are not is as exact as the readings are, so means and
	// extremes are compared beside the largest reading, and counts beside themselves.
	most := max(math.Abs(is[2]), math.Abs(is[3]))
	for i, v := range is {
		table := &t[i]
		if table.id == "" {
			continue
		}
		size := most
		if i == 0 || i == 4 {
			size = v
		}
		want := table.own.Apply(v)
		slack := 1e-9 * max(math.Abs(want), math.Abs(table.own.Apply(size)))
		if at >= len(table.values) || !(math.Abs(table.values[at]-want) <= slack) {
			return fmt.Errorf("table %s %w", table.id, errEdited)
		}
	}
	return nil
}
