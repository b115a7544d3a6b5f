package drivelog

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"calsplice/tables"
)

// Settings is what a person says of channels; what is left empty is told from
// headers and numbers.
type Settings struct {
	Units       map[string]string // the log's units by channel
	GaugeStoich float64           // air/fuel ratio of a gauge at lambda 1
	Stoich      float64           // the controller's
	StoichFrom  string            // who says so
}

// conflict is two or more columns for one channel.
type conflict struct {
	channel string
	columns []*column
}

func (c *conflict) text() string {
	var names []string
	for _, col := range c.columns {
		names = append(names, tables.Quote(col.text))
	}
	return fmt.Sprintf("%s are both %s: choose with --channel %s=%s", strings.Join(names, " and "), c.channel,
		c.channel, shellQuote(c.columns[0].text))
}

// shellQuote quotes a word for a command line where it needs to be.
func shellQuote(s string) string {
	if strings.IndexFunc(s, func(r rune) bool {
		return !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '_' || r == '-' || r == '.')
	}) < 0 {
		return s
	}
	return "'" + strings.ReplaceAll(tables.Clean(s), "'", `'\''`) + "'"
}

// assign gives each channel its column: first what the person told, then what
// the headers say. Channels with two equal columns end as conflicts.
func assign(cols []*column, channels map[string]string) ([]*column, []conflict, error) {
	var faults tables.Faults
	fail := func(format string, args ...any) {
		faults = append(faults, &tables.Fault{What: fmt.Sprintf(format, args...)})
	}
	taken := map[string]bool{}
	var news []string
	for _, n := range slices.Sorted(maps.Keys(channels)) {
		c, err := findHeader(cols, channels[n])
		switch {
		case err != nil:
			fail("channel %s: %v", n, err)
		case !IsOwnName(n):
			fail("channel %s: a name is lower-case letters, digits and _", tables.Quote(n))
		case !isKnown(n):
			news = append(news, n)
		case c.name != "":
			fail("channels %s and %s are both mapped to %s", c.name, n, tables.Quote(c.text))
		default:
			c.name, c.told, c.why = n, true, "as told"
			c.status = c.status || n == "fuel_status"
			taken[n] = true
		}
	}
	if err := faults.Err(); err != nil {
		return cols, nil, err
	}
	var conflicts []conflict
	for _, k := range known {
		if taken[k.name] {
			continue
		}
		if c := claim(cols, k.name); c != nil {
			conflicts = append(conflicts, conflict{k.name, c})
		}
	}
	// A new name for a column that is a channel is a second one for it.
	for _, n := range news {
		c, _ := findHeader(cols, channels[n])
		if c.name != "" {
			second := *c
			second.second = true
			c = &second
			cols = append(cols, c)
		}
		c.name, c.told, c.why = n, true, "as told"
	}
	return cols, conflicts, nil
}

// claim finds the one column for a channel, the lesser spellings after the
// others, and those with readings before those without; it returns the columns
// that it cannot choose between.
func claim(cols []*column, name string) []*column {
	var best []*column
	rank := func(c *column) int {
		r := 0
		if c.seen.count+c.seen.text == 0 {
			r += 2
		}
		if c.lesser {
			r++
		}
		if c.coarse {
			r += 4
		}
		return r
	}
	for _, c := range cols {
		if c.name != "" || c.channel != name || name == "time" && c.bad != "" {
			continue
		}
		switch {
		case len(best) == 0 || rank(c) < rank(best[0]):
			best = []*column{c}
		case rank(c) == rank(best[0]):
			best = append(best, c)
		}
	}
	if len(best) > 1 {
		for _, c := range best {
			c.why = "one of several columns that may be " + name
		}
		return best
	}
	for _, c := range best {
		c.name, c.why = name, "its header says so"
	}
	for _, c := range cols {
		if c.name == "" && c.channel == name && c.why == "" && len(best) > 0 {
			c.why = fmt.Sprintf("%s is read from %s", name, tables.Quote(best[0].text))
		}
	}
	return nil
}

// findHeader finds the one column with a header as a person typed it: as it
// stands, else in any case and without its unit.
func findHeader(cols []*column, header string) (*column, error) {
	cols = slices.DeleteFunc(slices.Clone(cols), func(c *column) bool { return c.told && !isKnown(c.name) })
	want := strings.TrimSpace(header)
	for _, same := range []func(c *column) bool{
		func(c *column) bool { return c.raw == header },
		func(c *column) bool { return c.text == want || c.text == mend(want) },
		func(c *column) bool { return strings.EqualFold(c.text, want) },
		func(c *column) bool { return strings.EqualFold(c.heading.name, want) },
	} {
		var found []*column
		for _, c := range cols {
			if c.text != "" && same(c) {
				found = append(found, c)
			}
		}
		switch {
		case len(found) == 1:
			return found[0], nil
		case len(found) > 1:
			return nil, fmt.Errorf("the log has %d columns %s", len(found), tables.Quote(header))
		}
	}
	var all []string
	for _, c := range cols {
		if c.text != "" {
			all = append(all, c.text)
		}
	}
	return nil, fmt.Errorf("the log has no column %s%s", tables.Quote(header), didYouMean(header, all))
}

func isKnown(name string) bool { _, ok := lookup(name); return ok }

// didYouMean ends an error line about a name that is not known with the
// nearest one that is; "" where none is near.
func didYouMean(name string, all []string) string {
	best := tables.Nearest(name, all)
	switch {
	case best == "":
		return ""
	case IsName(best):
		return ": did you mean " + best + "?"
	}
	return ": did you mean " + tables.Quote(best) + "?"
}
