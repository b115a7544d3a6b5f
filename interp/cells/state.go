package cells

import (
	"bytes"
	"cmp"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"calsplice/interp/cells/exact"
	"calsplice/tables"
)

// settings are what was asked of the logs. Cells combine only where they are
// the same, since only then are the combined ones those of one command.
type settings struct {
	Version int    `json:"version"`
	X       string `json:"x"` // channels
	Y       string `json:"y,omitempty"`
	Weight  string `json:"weight"`
	Surface bool   `json:"surface,omitempty"`
	Asked   string `json:"asked,omitempty"` // filters and the like, in one canonical line
	weight  Weight
}

// stateVersion is the version of the encoding below.
const stateVersion = 1

var errState = errors.New("the exact state of its cells is damaged")

// state is the document's State: "settings", "logs", and for each cell that has
// samples a key `channel[row,column]` with a text in base64:
// visits, minimum, maximum, exact sums, those of clusters, counts of values.
func (g *Grid) state() []tables.ExtraKey {
	set, err := json.Marshal(g.settings)
	if err != nil {
		panic(err) // strings and a number
	}
	logs := slices.Clone(g.logs)
	slices.SortFunc(logs, func(a, b LogID) int {
		return cmp.Or(strings.Compare(a.Name, b.Name), strings.Compare(a.Fingerprint, b.Fingerprint))
	})
	list, err := json.Marshal(logs)
	if err != nil {
		panic(err)
	}
	keys := []tables.ExtraKey{{Key: settingsKey, Value: string(set)}, {Key: logsKey, Value: string(list)}}
	for _, ch := range g.channels {
		if ch.surface != nil {
			keys = append(keys, ch.surface.state(ch.name, g.columns())...)
		}
		texts := make([]string, len(ch.cells))
		each(len(ch.cells), func(at int) {
			if c := ch.cells[at]; c != nil && c.visits > 0 {
				texts[at] = quoted(c.append(nil))
			}
		})
		for at, text := range texts {
			if text != "" {
				keys = appendParts(keys, fmt.Sprintf("%s[%d,%d]", ch.name, at/g.columns(), at%g.columns()), text)
			}
		}
	}
	slices.SortFunc(keys, func(a, b tables.ExtraKey) int { return strings.Compare(a.Key, b.Key) })
	return keys
}

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

// appendParts appends a key with a quoted text, cut where it is too long.
func appendParts(keys []tables.ExtraKey, key, text string) []tables.ExtraKey {
	if len(text) <= longest+2 {
		return append(keys, tables.ExtraKey{Key: key, Value: text})
	}
	text = text[1 : len(text)-1]
	for part := 0; len(text) > 0; part++ {
		n, name := min(len(text), longest), key
		if part > 0 {
			name = fmt.Sprintf("%s%s%d", key, partMark, part)
		}
		keys = append(keys, tables.ExtraKey{Key: name, Value: `"` + text[:n] + `"`})
		text = text[n:]
	}
	return keys
}

func (c *cell) append(b []byte) []byte {
	b = binary.AppendUvarint(b, uint64(c.visits))
	b = binary.LittleEndian.AppendUint64(b, math.Float64bits(c.min))
	b = binary.LittleEndian.AppendUint64(b, math.Float64bits(c.max))
	for i := range c.sum {
		b = c.sum[i].Append(b)
	}
	last, end := 0, 0 // where the span before that was written stands in b
	for i := range c.cluster {
		k, from := &c.cluster[i], len(b)
		b = binary.AppendUvarint(b, uint64(k.k))
		b = k.ss.Append(k.ns.Append(k.nn.Append(b)))
		if i > 0 && bytes.Equal(b[last:end], b[from:]) {
			b = append(b[:from], 0) // as the span before: most often so
			continue
		}
		last, end = from, len(b)
	}
	return c.counts.append(b)
}

// addEncoded adds a cell from its encoding.
func (c *cell) addEncoded(b []byte) error {
	visits, b, err := uvarint(b)
	if err != nil || visits == 0 || visits > math.MaxInt64 || len(b) < 16 {
		return errState
	}
	low := math.Float64frombits(binary.LittleEndian.Uint64(b))
	high := math.Float64frombits(binary.LittleEndian.Uint64(b[8:]))
	if !(low <= high) || math.IsInf(low, 0) || math.IsInf(high, 0) {
		return errState
	}
	if c.visits == 0 {
		c.min, c.max = low, high
	}
	c.min, c.max = min(c.min, low), max(c.max, high)
	c.visits += int64(visits)
	b = b[16:]
	for i := range c.sum {
		if b, err = c.sum[i].AddEncoded(b); err != nil {
			return errState
		}
	}
	var last []byte
	for i := range c.cluster {
		if len(b) > 0 && b[0] == 0 && i > 0 {
			if _, err = c.cluster[i].addEncoded(last); err != nil {
				return errState
			}
			b = b[1:]
			continue
		}
		last = b
		if b, err = c.cluster[i].addEncoded(b); err != nil {
			return errState
		}
	}
	if b, err = c.counts.addEncoded(b); err != nil || len(b) > 0 {
		return errState
	}
	return nil
}

func (c *clusters) addEncoded(b []byte) ([]byte, error) {
	k, b, err := uvarint(b)
	if err != nil || k == 0 || k > math.MaxInt64/2 {
		return nil, errState
	}
	c.k += int64(k)
	for _, s := range []*exact.Sum{&c.nn, &c.ns, &c.ss} {
		if b, err = s.AddEncoded(b); err != nil {
			return nil, err
		}
	}
	return b, nil
}

// addState adds the cells of a document's state to a grid of the same question.
// Where the document's tables are no longer what the state gives, the error is
// [errEdited].
func (g *Grid) addState(doc *tables.Calibration, say map[string]told) error {
	state := doc.Contents().State
	var buf []byte
	for i := 0; i < len(state); i++ {
		k := state[i]
		switch k.Key {
		case settingsKey:
			continue
		case logsKey:
			var logs []LogID
			if err := json.Unmarshal([]byte(k.Value), &logs); err != nil {
				return fmt.Errorf("state %q: %w", logsKey, errState)
			}
			g.logs = append(g.logs, logs...)
			continue
		}
		channel, at, ok := g.findKey(k.Key)
		surface, node, isSurface := g.findSurface(k.Key)
		if !ok && !isSurface {
			return fmt.Errorf("state %s names no cell of the document", tables.Quote(k.Key))
		}
		v := k.Value
		if len(v) < 2 || v[0] != '"' {
			return fmt.Errorf("state %s: %w", tables.Quote(k.Key), errState)
		}
		text := v[1 : len(v)-1]
		for part := 1; i+1 < len(state) && strings.HasPrefix(state[i+1].Key, k.Key+partMark); part++ {
			if state[i+1].Key != fmt.Sprintf("%s%s%d", k.Key, partMark, part) {
				break
			}
			i++
			text += strings.Trim(state[i].Value, `"`)
		}
		var err error
		if buf, err = base64.RawStdEncoding.AppendDecode(buf[:0], []byte(text)); err == nil {
			if isSurface {
				err = surface.addEncoded(node, g.columns(), buf)
			} else if err = say[g.channels[channel].name].agree(at, buf); err == nil {
				err = g.at(channel, at).addEncoded(buf)
			}
		}
		if errors.Is(err, errEdited) {
			return err
		}
		if err != nil {
			return fmt.Errorf("state %s: %w", tables.Quote(k.Key), errState)
		}
	}
	return nil
}

// findKey is the cell that a key such as "trim[2,13]" names.
func (g *Grid) findKey(key string) (channel, at int, ok bool) {
	name, place, ok := strings.Cut(key, "[")
	row, column, ok2 := strings.Cut(strings.TrimSuffix(place, "]"), ",")
	if !ok || !ok2 {
		return 0, 0, false
	}
	r, err1 := strconv.ParseUint(row, 10, 31)
	c, err2 := strconv.ParseUint(column, 10, 31)
	if err1 != nil || err2 != nil || int(c) >= g.columns() || int(r)*g.columns()+int(c) >= g.size() {
		return 0, 0, false
	}
	for i := range g.channels {
		if g.channels[i].name == name {
			return i, int(r)*g.columns() + int(c), true
		}
	}
	return 0, 0, false
}

func uvarint(b []byte) (uint64, []byte, error) {
	v, n := binary.Uvarint(b)
	if n <= 0 {
		return 0, nil, errState
	}
	return v, b[n:], nil
}
