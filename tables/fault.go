package tables

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"
)

// Fault is one thing wrong with one input, in one line with its place. Every
// reader's errors are of this type, or several of it joined by [Faults]; so are
// its cautions, which are of what was read in spite of it.
type Fault struct {
	File   string // as the person named it; "-" for standard input
	Line   int    // from 1; 0 where the input has no lines
	Column int    // from 1; 0 where not known
	Path   string // where in the document: `tables[2].x.points[4]`, a sheet's cell, a table's `[r, c]`
	What   string // what was found and what was wanted; lower case, no full stop
}

// Error is the line for a person, with nothing in it that could steer a terminal.
func (f *Fault) Error() string {
	var b strings.Builder
	b.WriteString(f.File)
	if f.Line > 0 {
		fmt.Fprintf(&b, ":%d", f.Line)
		if f.Column > 0 {
			fmt.Fprintf(&b, ":%d", f.Column)
		}
	}
	if f.Path != "" {
		b.WriteString(": " + f.Path)
	}
	if b.Len() > 0 {
		b.WriteString(": ")
	}
	return Clean(b.String() + f.What)
}

// Faults gathers faults, so that a file with ten of them is reported in ten lines.
type Faults []*Fault

// Lines are a line for each.
func (fs Faults) Lines() []string { return Each(fs, (*Fault).Error) }

// Error is all lines in one text.
func (fs Faults) Error() string { return strings.Join(fs.Lines(), "\n") }

// Err is nil where there are no faults, and the faults otherwise.
func (fs Faults) Err() error {
	if len(fs) == 0 {
		return nil
	}
	return fs
}

// MaxFaults is the number of faults of one file after which reading ends: nobody reads
// on, and a hostile file must not make a list of millions.
const MaxFaults = 100

// Add adds a fault, and reports whether reading ends with it, which the last line then
// says.
func (fs *Faults) Add(f *Fault) (last bool) {
	*fs = append(*fs, f)
	if last = len(*fs) == MaxFaults; last {
		*fs = append(*fs, &Fault{File: f.File, What: fmt.Sprintf("%d faults; reading ends here", MaxFaults)})
	}
	return last
}

// In wraps an error from a constructor with the place at which it was met.
// Errors that already have a place keep their own.
func In(file string, line, column int, path string, err error) error {
	if err == nil || HasPlace(err) {
		return err
	}
	return &Fault{file, line, column, path, err.Error()}
}

// HasPlace reports whether an error says where it was met.
func HasPlace(err error) bool {
	_, one := errors.AsType[*Fault](err)
	_, several := errors.AsType[Faults](err)
	return one || several
}

// NotText is the place of the first byte that no text has, a NUL or one that is not
// UTF-8, and what is wrong with it; "" where all is text. Kind is what was wanted.
func NotText(data []byte, kind string) (at int, what string) {
	if at = bytes.IndexByte(data, 0); at >= 0 {
		return at, "NUL byte: this is not " + kind
	}
	if utf8.Valid(data) { // one fast pass; only a bad text is searched
		return 0, ""
	}
	for at = 0; ; {
		c, n := utf8.DecodeRune(data[at:])
		if c == utf8.RuneError && n <= 1 {
			return at, fmt.Sprintf("byte 0x%02x is not UTF-8", data[at])
		}
		at += n
	}
}

// LineOf is the line and the column, in characters, of what stands behind some text;
// both from 1. A carriage return ends a line too, with the line feed behind it or alone.
func LineOf(before string) (line, column int) {
	line = strings.Count(before, "\n") + strings.Count(before, "\r") - strings.Count(before, "\r\n") + 1
	return line, utf8.RuneCountInString(before[strings.LastIndexAny(before, "\r\n")+1:]) + 1
}
