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
	"calsplice/tables/strictjson"
)

// maxMapLines is far more channels than any log has: past it, the file is no map.
const maxMapLines = 100_000

// ReadMap reads a channel map: a line for each channel, "name = Header" as the
// log writes the header, and optionally "name [unit] = Header". Blank lines
// and lines that begin with # are skipped. The channels and units are added to
// the options; what those already hold stays.
func (o *Options) ReadMap(r io.Reader, file string) error {
	var faults tables.Faults
	fault := func(line int, what string) {
		faults = append(faults, &tables.Fault{File: file, Line: line, What: what})
	}
	channels, units := map[string]string{}, map[string]string{}
	sc := bufio.NewScanner(r)
	for line := 1; sc.Scan(); line++ {
		if len(faults) == strictjson.MaxFaults {
			fault(0, fmt.Sprintf("%d faults; reading ends here", len(faults)))
			return faults.Err()
		}
		if line > maxMapLines {
			fault(line, fmt.Sprintf("a channel map has up to %d lines", maxMapLines))
			return faults.Err()
		}
		text := strings.TrimSpace(strings.TrimPrefix(sc.Text(), "\ufeff"))
		if text == "" || text[0] == '#' {
			continue
		}
		left, header, ok := strings.Cut(text, "=")
		name, u := strings.TrimSpace(left), ""
		if n, inside, has := channel.Brackets(name); has {
			name, u = n, inside
		}
		header = strings.TrimSpace(header)
		switch _, again := channels[name]; {
		case !ok || header == "":
			fault(line, "found "+tables.Quote(text)+", want name = Header")
		case !formula.IsOwnName(name):
			fault(line, "channel "+tables.Quote(name)+": a name is lower-case letters, digits and _")
		case again:
			fault(line, "channel "+name+" is mapped twice")
		default:
			channels[name] = header
			if u != "" {
				units[name] = u
			}
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
