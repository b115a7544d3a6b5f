package main

import (
	"bufio"
	"bytes"
	"errors"
	"io"
	"os"
	"slices"

	"github.com/urfave/cli/v2"

	"calsplice/interp/cells"
	"calsplice/merge/propose"
	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/tablefile"
)

// proposalInput reads a proposal's calibration and its evidence: drive logs, or
// cell averages, told by their content.
func proposalInput(c *cli.Context) (*propose.Input, error) {
	if err := twiceStdout(c); err != nil {
		return nil, err
	}
	cal, err := readCalibration(c, c.Args().First())
	if err != nil {
		return nil, err
	}
	opt, err := logOptions(c)
	if err != nil {
		return nil, err
	}
	opt.Engine = cal.Engine()
	in := &propose.Input{Context: c.Context, Cal: cal, By: c.String("by"), Options: proposalOptions(c)}
	stdin := bufio.NewReader(c.App.Reader)
	evidence, err := expand(c.Args().Tail())
	if err != nil {
		return nil, err
	}
	watchOverlaps(c, &opt, evidence)
	for i, path := range evidence {
		if slices.Contains(evidence[:i], path) {
			return nil, &tables.Fault{File: path, What: "given twice: its samples would count twice"}
		}
		if err := addEvidence(c, in, path, stdin, opt); err != nil {
			return nil, err
		}
	}
	if len(in.Logs) > 0 && len(in.Cells) > 0 {
		return nil, errors.New("drive logs and cell averages cannot be mixed: gather the logs with calsplice cells first")
	}
	return in, nil
}

// addEvidence adds a drive log, or reads cell averages.
func addEvidence(c *cli.Context, in *propose.Input, path string, stdin *bufio.Reader, opt drivelog.Options) error {
	document, err := isDocument(path, stdin)
	if err != nil {
		return err
	}
	if !document {
		limitMemory(judging)
		in.Logs = append(in.Logs, cells.Log{Name: path, Open: func() (*drivelog.Log, error) { return drivelog.Open(path, stdin, opt) }})
		return nil
	}
	doc, cautions, err := tablefile.ReadWithCautions(path, stdin)
	printCautions(c, cautions.Lines()...)
	if err != nil {
		return err
	}
	if doc.Kind() != tables.Cells {
		return &tables.Fault{File: path, What: "this is a calibration, want a drive log or cell averages"}
	}
	in.Cells = append(in.Cells, doc)
	return nil
}

func proposalOptions(c *cli.Context) propose.Options {
	o := propose.Options{Target: c.String("target"), Gain: 1, Bound: c.Float64("bound"), MinCount: c.Int("min-count"), MinVisits: c.Int("min-visits"),
		OnlyVisited: c.Bool("only-visited"), DespiteCause: c.Bool("despite-cause"), DeadBand: c.Float64("dead-band"), RailPressure: c.Float64("rail-pressure")}
	if c.IsSet("gain") {
		o.Gain = c.Float64("gain")
	}
	return o
}

func readCalibration(c *cli.Context, path string) (*tables.Calibration, error) {
	cal, err := readDoc(c, path)
	if err == nil && cal.Kind() != tables.Calibrated {
		err = &tables.Fault{File: path, What: "these are cell averages, want a calibration"}
	}
	return cal, err
}

// isDocument reports whether a file is one of this program's documents rather
// than a drive log, by its first bytes, which stay to be read of standard
// input.
func isDocument(path string, stdin *bufio.Reader) (bool, error) {
	const enough = 64
	var head []byte
	if path == "-" {
		head, _ = stdin.Peek(enough)
	} else {
		f, err := os.Open(path)
		if err != nil {
			return false, tablefile.Plain(path, err)
		}
		defer f.Close()
		head = make([]byte, enough)
		n, _ := io.ReadFull(f, head)
		head = head[:n]
	}
	head = bytes.TrimLeft(bytes.TrimPrefix(head, []byte("\xef\xbb\xbf")), " \t\r\n\"")
	return bytes.HasPrefix(head, []byte("{")) || bytes.HasPrefix(head, []byte("calsplice")) ||
		bytes.HasPrefix(head, []byte("PK\x03\x04")), nil
}
