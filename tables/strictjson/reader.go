// Package strictjson reads JSON the way a format's own reader needs it: in one
// pass over the bytes, with the line, the column and the path of whatever is
// wrong, and with everything that the standard library forgives refused: a key
// that stands twice, a key in other capitals, an unknown key, invalid UTF-8,
// numbers that a double does not hold, what follows the end, and nesting
// beyond a bound.
//
// A [Reader] is driven by the code that knows the format, which asks for what
// it expects: an [Reader.Object], an [Reader.Array], a [Reader.Number]. Where
// the input holds something else, that is a fault, the value is skipped, and
// reading goes on, so that ten faults are told at once. Broken syntax ends it:
// from then on every method returns its zero value. Whoever drives the reader
// therefore asks [Reader.Err] once, at the end.
//
// Strictness costs little: numbers are read where they stand, text is copied once,
// and lines are counted only for a fault. Since the input is in memory whole, a
// format may also look ahead, for what decides how the rest is read: [Format] for a
// whole document, [Reader.First] for an object of several kinds.
//
// The package also writes what it reads ([AppendText], [AppendNumbers] …), and
// results for other programs ([Print]), with everything escaped that could steer a
// terminal on which a person looks at them.
//
// It is not a general decoder: it fills in no structures and reads no streams. The
// standard library's tokens would do for the grammar, at 25 times the time for a table
// of numbers, since each is made a value of its own.
package strictjson

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"calsplice/tables"
)

// Reader reads one JSON document.
type Reader struct {
	data   []byte
	pos    int
	file   string
	path   []step
	faults tables.Faults
	done   bool // broken syntax or too many faults: nothing more is read
}

// step is one step of a path: an index, or a key where that is −1.
type step struct {
	key   string
	index int
}

// New starts on a document. A byte-order mark at its start is passed over;
// bytes that are not UTF-8, and NUL, end it here.
func New(data []byte, file string) *Reader {
	r := &Reader{data: bytes.TrimPrefix(data, []byte("\xef\xbb\xbf")), file: file}
	if at, what := tables.NotText(r.data, "JSON text"); what != "" {
		r.syntax(at, what)
	}
	return r
}

// Err is nil where nothing was wrong, and all faults otherwise. It first
// checks that nothing follows the document.
func (r *Reader) Err() error {
	if !r.done {
		if r.space(); r.pos < len(r.data) {
			r.syntax(r.pos, "the document has ended, but more follows")
		}
		r.done = true
	}
	return r.faults.Err()
}

// Faults is the number of faults so far.
func (r *Reader) Faults() int { return len(r.faults) }

// Left is the number of bytes not read yet.
func (r *Reader) Left() int { return len(r.data) - r.pos }

// Mark is the place of the next value, for a fault that shows only later.
func (r *Reader) Mark() int {
	r.space()
	return r.pos
}

// Fault records that something is wrong with the value at a mark. The path is
// the reader's own, and whatever steps follow it.
func (r *Reader) Fault(mark int, below, what string) { r.FaultAt(mark, r.Path()+below, what) }

// FaultAt is [Reader.Fault] with a whole path.
func (r *Reader) FaultAt(mark int, path, what string) {
	if r.done {
		return
	}
	line, column := tables.LineOf(string(r.data[:min(mark, len(r.data))]))
	r.done = r.faults.Add(&tables.Fault{File: r.file, Line: line, Column: column, Path: path, What: what})
}

// Only makes one fault the only one, and ends reading: the reader learned that the
// others follow from it.
func (r *Reader) Only(mark int, path, what string) {
	r.faults, r.done = nil, false
	r.FaultAt(mark, path, what)
	r.done = true
}

// syntax records broken syntax, after which nothing more can be read.
func (r *Reader) syntax(at int, what string) {
	r.Fault(at, "", what)
	r.done = true
}

// Path is where the reader stands, such as `tables[2].x.points[4]`.
func (r *Reader) Path() string {
	var b strings.Builder
	for _, s := range r.path {
		switch {
		case s.index >= 0:
			fmt.Fprintf(&b, "[%d]", s.index)
		case b.Len() > 0:
			b.WriteString("." + plainKey(s.key))
		default:
			b.WriteString(plainKey(s.key))
		}
	}
	return b.String()
}

// plainKey is a key in a path: as it is where it cannot be taken for several
// steps, else quoted.
func plainKey(key string) string {
	if len(key) > 60 {
		return tables.Quote(key)
	}
	if strings.ContainsFunc(key, func(c rune) bool { return c <= ' ' || c == '.' || c == '[' || c == '"' }) {
		return tables.Quote(key)
	}
	return key
}

// Keys says what an object may hold.
type Keys struct {
	Known []string
	Need  []string // of these, the ones that must be there
	Extra bool     // whether keys beginning with "x-" are kept
}

// Object reads an object, calling each for every key that may be there. Each
// must read the key's value. It reports whether there was an object.
func (r *Reader) Object(keys Keys, each func(key string)) bool {
	start := r.Mark()
	if !r.enter('{', "an object") {
		return false
	}
	seen := map[string]bool{}
	r.members('}', func(int) {
		at := r.pos
		key := r.key()
		if r.done {
			return
		}
		r.path = append(r.path, step{key, -1})
		switch {
		case seen[key]:
			r.Fault(at, "", "the key stands twice")
			r.Skip()
		case keys.Has(key):
			each(key)
		default:
			r.Fault(at, "", keys.unknown(key))
			r.Skip()
		}
		seen[key] = true
		r.path = r.path[:len(r.path)-1]
	})
	for _, k := range keys.Need {
		if !seen[k] {
			r.Fault(start, "", fmt.Sprintf("has no %q", k))
		}
	}
	return !r.done
}

// Has reports whether an object may hold a key.
func (k Keys) Has(key string) bool {
	return k.Known == nil || slices.Contains(k.Known, key) || k.Extra && strings.HasPrefix(key, "x-")
}

// unknown says that a key is not known, and which one was likely meant.
func (k Keys) unknown(key string) string {
	all := slices.Clone(k.Known)
	if k.Extra {
		all = append(all, "x-…")
	}
	return tables.Unknown("key", key, all)
}

// Array reads a list, calling each for every element, which each must read. It
// reports whether there was a list.
func (r *Reader) Array(each func(i int)) bool {
	if !r.enter('[', "a list") {
		return false
	}
	r.path = append(r.path, step{})
	r.members(']', func(i int) {
		r.path[len(r.path)-1].index = i
		each(i)
	})
	r.path = r.path[:len(r.path)-1]
	return !r.done
}

// List reports whether a list begins here.
func (r *Reader) List() bool {
	r.space()
	return !r.done && r.at('[')
}

// enter passes over an opening bracket, or records what stands there instead.
func (r *Reader) enter(open byte, want string) bool {
	if r.Kind() == open {
		r.pos++
		return true
	}
	r.wrong(want)
	return false
}

// members reads what stands between brackets, separated by commas. A comma before
// the closing bracket is refused: programs differ in whether an empty member
// follows it.
func (r *Reader) members(end byte, each func(i int)) {
	if r.space(); r.at(end) {
		r.pos++
		return
	}
	for i := 0; !r.done; i++ {
		each(i)
		if r.done {
			return
		}
		switch r.space(); {
		case r.at(','):
			r.pos++
			if r.space(); r.at(end) {
				r.syntax(r.pos-1, fmt.Sprintf("comma before %q", end))
			}
		case r.at(end):
			r.pos++
			return
		default:
			r.unexpected(fmt.Sprintf("%q or %q", ',', end))
		}
	}
}

// at reports whether the next byte is a given one; at the end it is none.
func (r *Reader) at(c byte) bool { return r.pos < len(r.data) && r.data[r.pos] == c }

// space passes over the four blanks that JSON has, and no others: another one is
// a fault where a value is wanted.
func (r *Reader) space() {
	for r.pos < len(r.data) {
		switch r.data[r.pos] {
		case ' ', '\n', '\r', '\t':
			r.pos++
		default:
			return
		}
	}
}

// unexpected ends reading at a character that cannot stand where it stands.
func (r *Reader) unexpected(want string) {
	if r.pos >= len(r.data) {
		r.syntax(r.pos, "the text ends here, expected "+want)
		return
	}
	c, _ := utf8.DecodeRune(r.data[r.pos:])
	r.syntax(r.pos, fmt.Sprintf("found %q, expected %s", c, want))
}
