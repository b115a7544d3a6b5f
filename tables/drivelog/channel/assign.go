package channel

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"calsplice/tables"
	"calsplice/tables/drivelog/dialect"
	"calsplice/tables/drivelog/formula"
)

// Settings is what a person says of channels; what is left empty is told from
// headers and numbers.
type Settings struct {
	Units       map[string]string // the log's units by channel
	GaugeStoich float64           // air/fuel ratio of a gauge at lambda 1
	Stoich      float64           // the controller's
	StoichFrom  string            // who says so
}

// Conflict is two or more columns for one channel.
type Conflict struct {
	Channel string
	columns []*Column
}

// Text says which columns claim the channel, and how to choose one.
func (c *Conflict) Text() string {
	names := tables.Each(c.columns, func(col *Column) string { return tables.Quote(col.Text) })
	return fmt.Sprintf("%s are both %s: choose with --channel %s=%s", strings.Join(names, " and "), c.Channel,
		c.Channel, shellQuote(c.columns[0].Text))
}

// shellQuote quotes a word for a command line where it needs to be.
func shellQuote(s string) string {
	if strings.IndexFunc(s, func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '_' || r == '-' || r == '.')
	}) < 0 {
		return s
	}
	return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
}

// Assign gives each channel its column: first what the person told, then what
// the headers say. Channels with two equal columns end as conflicts.
func Assign(cols []*Column, channels map[string]string) ([]*Column, []Conflict, error) {
	own, err := assignTold(cols, channels)
	if err != nil {
		return cols, nil, err
	}
	var conflicts []Conflict
	// What a person maps is settled; the headers decide only the rest.
	for _, k := range Known {
		if channels[k.Name] != "" {
			continue
		}
		if c := claim(cols, k.Name); c != nil {
			conflicts = append(conflicts, Conflict{k.Name, c})
		}
	}
	// A new name for a column that is a channel is a second one for it.
	for _, n := range slices.Sorted(maps.Keys(own)) {
		c := own[n]
		if c.Name != "" {
			second := *c
			second.Second = c.Name
			c = &second
			cols = append(cols, c)
		}
		c.Name, c.Told, c.Why = n, true, "as told"
	}
	return cols, conflicts, nil
}

// assignTold gives channels the columns that a person maps them to; own are columns by
// names of the person's own, which may be channels too.
func assignTold(cols []*Column, channels map[string]string) (own map[string]*Column, err error) {
	own = map[string]*Column{}
	var faults tables.Faults
	fail := func(format string, args ...any) {
		faults = append(faults, &tables.Fault{What: fmt.Sprintf(format, args...)})
	}
	for _, n := range slices.Sorted(maps.Keys(channels)) {
		c, err := findHeader(cols, channels[n])
		switch {
		case err != nil:
			fail("channel %s: %v", n, err)
		case !formula.IsOwnName(n):
			fail("channel %s: a name is lower-case letters, digits and _", tables.Quote(n))
		case !isKnown(n):
			own[n] = c
		case c.Name != "":
			fail("channels %s and %s are both mapped to %s", c.Name, n, tables.Quote(c.Text))
		default:
			c.Name, c.Told, c.Why = n, true, "as told"
			c.Status = c.Status || n == "fuel_status"
		}
	}
	return own, faults.Err()
}

// Loggers that are asked for everything write some channels twice: as the sensor has them and
// as the controller computes them. Which of the two is meant makes a difference that no
// program can judge.

// claim finds the one column for a channel, the lesser spellings after the
// others, and those with readings before those without; it returns the columns
// that it cannot choose between.
func claim(cols []*Column, name string) []*Column {
	cols = columnsThat(cols, func(c *Column) bool { return c.Name == "" && c.Channel == name && (name != "time" || c.Bad == "") })
	if len(cols) == 0 {
		return nil
	}
	// A column without readings, a clock that hardly moves and a header that only
	// sometimes means the channel give way to others, in this order of weight.
	rank := func(c *Column) int {
		r := 0
		if c.Seen.Count+c.Seen.Text == 0 {
			r += 2
		}
		if c.Lesser {
			r++
		}
		if c.Coarse {
			r += 4
		}
		return r
	}
	least := rank(slices.MinFunc(cols, func(a, b *Column) int { return rank(a) - rank(b) }))
	best := columnsThat(cols, func(c *Column) bool { return rank(c) == least })
	if len(best) > 1 {
		for _, c := range best {
			c.Why = "one of several columns that may be " + name
		}
		return best
	}
	for _, c := range cols {
		c.Why = fmt.Sprintf("%s is read from %s", name, tables.Quote(best[0].Text))
	}
	best[0].Name, best[0].Why = name, "its header says so"
	return nil
}

// columnsThat are those columns of which is holds.
func columnsThat(cols []*Column, is func(c *Column) bool) []*Column {
	return slices.DeleteFunc(slices.Clone(cols), func(c *Column) bool { return !is(c) })
}

// findHeader finds the one column with a header as a person typed it: as it
// stands, else in any case and without its unit.
func findHeader(cols []*Column, header string) (*Column, error) {
	cols = columnsThat(cols, func(c *Column) bool { return c.Text != "" })
	want := strings.TrimSpace(header)
	// From the strictest to the loosest, so that a header that is typed exactly is never
	// in doubt.
	for _, same := range []func(c *Column) bool{
		func(c *Column) bool { return c.Raw == header },
		func(c *Column) bool { return c.Text == want || c.Text == dialect.Mend(want) },
		func(c *Column) bool { return strings.EqualFold(c.Text, want) },
		func(c *Column) bool { return strings.EqualFold(c.Heading.Name, want) },
	} {
		switch found := columnsThat(cols, same); {
		case len(found) == 1:
			return found[0], nil
		case len(found) > 1:
			return nil, fmt.Errorf("the log has %d columns %s", len(found), tables.Quote(header))
		}
	}
	all := tables.Each(cols, func(c *Column) string { return c.Text })
	return nil, fmt.Errorf("the log has no column %s%s", tables.Quote(header), DidYouMean(header, all))
}

// isKnown reports whether a name is a channel's, logged or derived.
func isKnown(name string) bool { _, ok := Lookup(name); return ok }

// DidYouMean ends an error line about a name that is not known with the
// nearest one that is; "" where none is near.
func DidYouMean(name string, all []string) string {
	best := tables.Nearest(name, all)
	switch {
	case best == "":
		return ""
	case formula.IsName(best):
		return ": did you mean " + best + "?"
	}
	return ": did you mean " + tables.Quote(best) + "?"
}
