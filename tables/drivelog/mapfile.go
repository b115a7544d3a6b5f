package drivelog

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"maps"
	"strings"

	"calsplice/tables"
	"calsplice/tables/drivelog/channel"
	"calsplice/tables/drivelog/formula"
)

// maxMapLines is far more channels than any log has: past it, the file is no map.
const maxMapLines = 100_000

// mapEntry is a line of a channel map, or what is wrong with it.
type mapEntry struct{ name, unit, header, wrong string }

func entryOf(text string) (e mapEntry) {
	left, header, ok := strings.Cut(text, "=")
	e.name, e.header = strings.TrimSpace(left), strings.TrimSpace(header)
	if n, inside, has := channel.Brackets(e.name); has {
		e.name, e.unit = n, inside
	}
	switch {
	case !ok || e.header == "":
		e.wrong = "found " + tables.Quote(text) + ", expected name = Header"
	case !formula.IsOwnName(e.name):
		e.wrong = "channel " + tables.Quote(e.name) + ": a name is lower-case letters, digits and _"
	}
	return e
}

// ReadMap reads a channel map: a line for each channel, "name = Header" as the
// log writes the header, and optionally "name [unit] = Header". Blank lines
// and lines that begin with # are skipped. The channels and units are added to
// the options; what those already hold stays.
func (o *Options) ReadMap(r io.Reader, file string) error {
	var faults tables.Faults
	fault := func(line int, what string) (last bool) {
		return faults.Add(&tables.Fault{File: file, Line: line, What: what})
	}
	channels, units := map[string]string{}, map[string]string{}
	sc := bufio.NewScanner(r)
	for line := 1; sc.Scan(); line++ {
		if line > maxMapLines {
			fault(line, fmt.Sprintf("a channel map has up to %d lines", maxMapLines))
			return faults.Err()
		}
		text := strings.TrimSpace(strings.TrimPrefix(sc.Text(), "\ufeff"))
		if text == "" || text[0] == '#' {
			continue
		}
		e := entryOf(text)
		if _, again := channels[e.name]; again && e.wrong == "" {
			e.wrong = "channel " + e.name + " is mapped twice"
		}
		switch {
		case e.wrong != "" && fault(line, e.wrong):
			return faults.Err()
		case e.wrong != "":
			continue
		}
		if channels[e.name] = e.header; e.unit != "" {
			units[e.name] = e.unit
		}
	}
	if err := sc.Err(); errors.Is(err, bufio.ErrTooLong) {
		fault(0, fmt.Sprintf("a line is longer than %d bytes: this is no channel map", bufio.MaxScanTokenSize))
	} else if err != nil {
		fault(0, err.Error())
	}
	// What was given on the command line wins over a file.
	maps.Copy(channels, o.Channels)
	maps.Copy(units, o.Units)
	o.Channels, o.Units = channels, units
	return faults.Err()
}
