package cells

import (
	"cmp"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"maps"
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
		texts := make([][]byte, len(ch.cells))
		tally.Each(len(ch.cells), func(at int) {
			if c := ch.cells[at]; c != nil && c.Visits() > 0 {
				texts[at] = base64.RawStdEncoding.AppendEncode(nil, c.Append(nil))
			}
		})
		for at, text := range texts {
			keep(state, g.key(&ch, at), text)
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

// key is the key of a cell of a channel.
func (g *Grid) key(ch *channel, at int) string {
	return ch.name + "[" + strconv.Itoa(at/g.columns()) + "," + strconv.Itoa(at%g.columns()) + "]"
}

// partKey is the key of a part of a text, the first of which has the cell's own.
func partKey(key string, part int) string {
	if part == 0 {
		return key
	}
	return key + partMark + strconv.Itoa(part)
}

// keep adds a key with a text, cut where it is too long.
func keep(state tables.Extra, key string, text []byte) {
	part := 0
	for piece := range slices.Chunk(text, longest) {
		state[partKey(key, part)] = `"` + string(piece) + `"`
		part++
	}
}

// readState reads the cells of a document's state.
func (g *Grid) readState(state tables.Extra) error {
	if err := json.Unmarshal([]byte(cmp.Or(state[logsKey], "[]")), &g.logs); err != nil {
		return fmt.Errorf("state %q: %w", logsKey, tally.ErrState)
	}
	left := maps.Clone(state)
	delete(left, settingsKey)
	delete(left, logsKey)
	var buf []byte // used again for each cell
	for _, ch := range g.channels {
		for at := range ch.cells {
			key := g.key(&ch, at)
			if left[key] == "" {
				continue
			}
			text := ""
			for part, name := 1, key; left[name] != ""; part++ {
				text += strings.Trim(left[name], `"`)
				delete(left, name)
				name = partKey(key, part)
			}
			var err error
			buf, err = base64.RawStdEncoding.AppendDecode(buf[:0], []byte(text))
			c, broken := tally.Decode(buf)
			if err != nil || broken != nil || !strings.HasPrefix(state[key], `"`) {
				return fmt.Errorf("state %s: %w", tables.Quote(key), tally.ErrState)
			}
			ch.cells[at] = c
		}
	}
	// A key of a document that is not ours may name anything.
	if len(left) > 0 {
		return fmt.Errorf("state %s names no cell of the document", tables.Quote(slices.Min(slices.Collect(maps.Keys(left)))))
	}
	return nil
}
