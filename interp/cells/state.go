package cells

import (
	"cmp"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"calsplice/interp/cells/sift"
	"calsplice/interp/cells/tally"
	"calsplice/tables"
)

// The state is text in JSON keys because it has to pass through every format that cell
// averages have: JSON, CSV and workbooks, and whatever a person's tools make of those. A key
// for each cell keeps a change of one cell a change of one line.

// settings are what was asked of the logs. Cells combine only where they are
// the same, since only then are the combined ones those of one command.
type settings struct {
	Version int    `json:"version"`
	X       string `json:"x"` // channels
	Y       string `json:"y,omitempty"`
	Weight  Weight `json:"weight"`
	Asked   string `json:"asked,omitempty"` // filters and the like, in one canonical line
}

// stateVersion is the version of the encoding below.
const stateVersion = 1

// state is the document's State: "settings", "logs", and for each cell that has
// samples a key `channel[row,column]` with a text in base64:
// visits, minimum, maximum, exact sums, those of clusters, counts of values.
func (g *Grid) state() tables.Extra {
	set, err := json.Marshal(g.settings)
	if err != nil {
		panic(err) // strings and a number
	}
	logs := slices.Clone(g.logs)
	slices.SortFunc(logs, func(a, b sift.LogID) int {
		return cmp.Or(strings.Compare(a.Name, b.Name), strings.Compare(a.Fingerprint, b.Fingerprint))
	})
	// In an order that does not depend on which log was read first.
	list, err := json.Marshal(logs)
	if err != nil {
		panic(err)
	}
	state := tables.Extra{settingsKey: string(set), logsKey: string(list)}
	for _, ch := range g.channels {
		texts := make([]string, len(ch.cells))
		tally.Each(len(ch.cells), func(at int) {
			if c := ch.cells[at]; c != nil && c.Visits() > 0 {
				texts[at] = quoted(c.Append(nil))
			}
		})
		for at, text := range texts {
			if text != "" {
				keep(state, fmt.Sprintf("%s[%d,%d]", ch.name, at/g.columns(), at%g.columns()), text)
			}
		}
	}
	return state
}

// The keys beside those of cells.
const settingsKey, logsKey = "settings", "logs"

// longest is the length at which a cell's text is cut, since a workbook's cell
// holds no more than 32,767 characters. What follows stands under the same key
// with partMark and the part's number, up to 9.
const (
	longest  = 30_000
	partMark = "~"
)

// quoted is a text in base64 between quotation marks.
func quoted(b []byte) string {
	text := append(make([]byte, 0, base64.RawStdEncoding.EncodedLen(len(b))+2), '"')
	text = base64.RawStdEncoding.AppendEncode(text, b)
	return string(append(text, '"'))
}

// partKey is the key of what follows the first part of a text.
func partKey(key string, part int) string { return key + partMark + strconv.Itoa(part) }

// keep adds a key with a quoted text, cut where it is too long.
func keep(state tables.Extra, key, text string) {
	name := key
	for part := 1; len(text) > longest+2; part++ {
		state[name] = text[:1+longest] + `"`
		text, name = `"`+text[1+longest:], partKey(key, part)
	}
	state[name] = text
}

// readState reads the cells of a document's state.
func (g *Grid) readState(state tables.Extra) error {
	var buf []byte // used again for each cell
	rest := map[string]bool{}
	for key, value := range state.Sorted() {
		switch {
		case key == settingsKey || rest[key]:
			continue
		case key == logsKey:
			if err := json.Unmarshal([]byte(value), &g.logs); err != nil {
				return fmt.Errorf("state %q: %w", logsKey, tally.ErrState)
			}
			continue
		}
		// A key of a document that is not ours may name anything.
		channel, at := g.findKey(key)
		if channel < 0 {
			return fmt.Errorf("state %s names no cell of the document", tables.Quote(key))
		}
		text := strings.Trim(value, `"`)
		for part := 1; ; part++ {
			next := partKey(key, part)
			if _, more := state[next]; !more {
				break
			}
			text, rest[next] = text+strings.Trim(state[next], `"`), true
		}
		var err error
		buf, err = base64.RawStdEncoding.AppendDecode(buf[:0], []byte(text))
		c, broken := tally.Decode(buf)
		if err != nil || broken != nil || !strings.HasPrefix(value, `"`) {
			return fmt.Errorf("state %s: %w", tables.Quote(key), tally.ErrState)
		}
		g.channels[channel].cells[at] = c
	}
	return nil
}

// findKey is the cell that a key such as "trim[2,13]" names; the index is −1 where there is
// none.
func (g *Grid) findKey(key string) (index, at int) {
	name, place, _ := strings.Cut(key, "[")
	row, column, _ := strings.Cut(strings.TrimSuffix(place, "]"), ",")
	r, err1 := strconv.ParseUint(row, 10, 31)
	c, err2 := strconv.ParseUint(column, 10, 31)
	if err1 != nil || err2 != nil || int(c) >= g.columns() || int(r)*g.columns()+int(c) >= g.size() {
		return -1, 0
	}
	index = slices.IndexFunc(g.channels, func(ch channel) bool { return ch.name == name })
	return index, int(r)*g.columns() + int(c)
}
