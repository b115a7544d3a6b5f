package main

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/urfave/cli/v2"

	"calsplice/merge/propose"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// proposalInput reads a proposal's calibration and its evidence: drive logs, or
// cell averages, told by their content.
func proposalInput(c *cli.Context) (*propose.Input, error) {
	if err := wantArgs(c, 2, -1); err != nil {
		return nil, err
	}
	if c.String("o") == "" {
		return nil, fmt.Errorf("propose %s needs -o FILE for the change set", c.Command.Name)
	}
	if c.String("o") == "-" && c.Bool("json") {
		return nil, errors.New("-o - and --json both want standard output")
	}
	cal, err := readCalibration(c, c.Args().First())
	if err != nil {
		return nil, err
	}
	in := &propose.Input{Context: c.Context, Cal: cal, File: c.Args().First(), Stdin: c.App.Reader, By: c.String("by"), Options: propose.Options{
		Target: c.String("target"), Gain: 1, Bound: c.Float64("bound"), MinCount: c.Int("min-count"), MinVisits: c.Int("min-visits"),
		OnlyVisited: c.Bool("only-visited"), DespiteCause: c.Bool("despite-cause"), DeadBand: c.Float64("dead-band")}}
	if c.IsSet("gain") {
		in.Options.Gain = c.Float64("gain")
	}
	for _, path := range c.Args().Tail() {
		document, err := isDocument(path, in)
		if err != nil {
			return nil, err
		}
		if !document {
			in.Logs = append(in.Logs, path)
			continue
		}
		doc, err := tablefile.Read(path, in.Stdin)
		if err != nil {
			return nil, err
		}
		if doc.Kind() != tables.Cells {
			return nil, &tables.Fault{File: path, What: "this is a calibration, want a drive log or cell averages"}
		}
		in.Cells = append(in.Cells, doc)
	}
	if len(in.Logs) > 0 && len(in.Cells) > 0 {
		return nil, errors.New("drive logs and cell averages cannot be mixed: gather the logs with calsplice cells first")
	}
	return in, nil
}

func readCalibration(c *cli.Context, path string) (*tables.Calibration, error) {
	cal, err := tablefile.Read(path, c.App.Reader)
	if err == nil && cal.Kind() != tables.Calibrated {
		err = &tables.Fault{File: path, What: "these are cell averages, want a calibration"}
	}
	return cal, err
}

// isDocument reports whether a file is one of this program's documents rather
// than a drive log, by its first bytes. What it reads of standard input stays
// to be read.
func isDocument(path string, in *propose.Input) (bool, error) {
	const enough = 64
	var head []byte
	if path == "-" {
		b := bufio.NewReader(in.Stdin)
		head, _ = b.Peek(enough)
		in.Stdin = b
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
