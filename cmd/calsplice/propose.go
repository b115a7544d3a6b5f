package main

import (
	"bufio"
	"bytes"
	"os"
	"slices"

	"github.com/urfave/cli/v2"

	"calsplice/cmd/calsplice/view"
	"calsplice/interp/cells"
	"calsplice/merge"
	"calsplice/merge/caution"
	"calsplice/merge/changefile"
	"calsplice/merge/propose"
	"calsplice/tables"
	"calsplice/tables/drivelog"
	"calsplice/tables/tablefile"
)

// proposal reads the documents, makes the proposal, writes the change set and
// reports.
func proposal(from func(in *propose.Input) (*propose.Proposal, error)) cli.ActionFunc {
	return func(c *cli.Context) error {
		in := reading(c)
		evidence := in.proposalInput()
		if in.err != nil {
			return in.err
		}
		p, err := from(evidence)
		if err != nil {
			return err
		}
		after, err := merge.Apply(evidence.Cal, p.Changes)
		if err != nil {
			return err
		}
		cautions := slices.Concat(p.Report.First, p.Report.Cautions)
		if len(p.Report.Edits) > 0 {
			cautions = append(cautions, caution.Text())
		}
		v := viewed(func() *view.View { return view.Proposal(evidence.Cal, after, p) })
		return deliver(c, result{beside: true, view: v, page: v, json: asJSON(&p.Report), cautions: cautions, found: len(p.Report.Edits) > 0,
			write: func(out string) error { return changefile.Write(out, p.Changes, evidence.Cal, outputOrPage(c)) }})
	}
}

// proposalInput reads a proposal's calibration and its evidence: drive logs, or
// cell averages, recognised by their content.
func (in *input) proposalInput() *propose.Input {
	in.check(twiceStdout(in.Context))
	cal := in.calibration(in.arg(0))
	opt := in.logOptions()
	files := in.files(in.Args().Tail())
	if in.err != nil {
		return nil
	}
	opt.Engine = cal.Engine()
	p := &propose.Input{Context: in.Context.Context, Cal: cal, By: in.String("by"), Options: proposalOptions(in.Context)}
	stdin := bufio.NewReader(in.App.Reader)
	watchOverlaps(in.Context, &opt, files)
	for i, path := range files {
		if slices.Contains(files[:i], path) {
			in.check(&tables.Fault{File: path, What: "given twice: its samples would count twice"})
		}
		in.evidence(p, path, stdin, opt)
	}
	in.refuse(len(p.Logs) > 0 && len(p.Cells) > 0, "drive logs and cell averages cannot be mixed: gather the logs with calsplice cells first")
	return p
}

// evidence adds a drive log, or reads cell averages.
func (in *input) evidence(p *propose.Input, path string, stdin *bufio.Reader, opt drivelog.Options) {
	if !in.isDocument(path, stdin) {
		limitMemory(judging)
		p.Logs = append(p.Logs, cells.Log{Name: path, Open: func() (*drivelog.Log, error) { return drivelog.Open(path, stdin, opt) }})
		return
	}
	doc := withCautions(in, func() (*tables.Calibration, tables.Faults, error) { return tablefile.ReadWithCautions(path, stdin) })
	if in.err == nil && doc.Kind() != tables.Cells {
		in.check(&tables.Fault{File: path, What: "this is a calibration, expected a drive log or cell averages"})
	}
	p.Cells = append(p.Cells, doc)
}

func proposalOptions(c *cli.Context) propose.Options {
	o := propose.Options{Target: c.String("target"), Gain: 1, Bound: c.Float64("bound"), MinCount: c.Int("min-count"), MinVisits: c.Int("min-visits"),
		OnlyVisited: c.Bool("only-visited"), DespiteCause: c.Bool("despite-cause"), DeadBand: c.Float64("dead-band"), RailPressure: c.Float64("rail-pressure")}
	if c.IsSet("gain") {
		o.Gain = c.Float64("gain")
	}
	return o
}

func (in *input) isDocument(path string, stdin *bufio.Reader) bool {
	return get(in, func() (bool, error) { return isDocument(path, stdin) })
}

// isDocument reports whether a file is one of this program's documents rather
// than a drive log, by its first bytes, which stay to be read of standard
// input.
func isDocument(path string, stdin *bufio.Reader) (bool, error) {
	if path != "-" {
		f, err := os.Open(path)
		if err != nil {
			return false, tablefile.Plain(path, err)
		}
		defer f.Close()
		stdin = bufio.NewReader(f)
	}
	head, _ := stdin.Peek(64)
	head = bytes.TrimLeft(bytes.TrimPrefix(head, []byte("\xef\xbb\xbf")), " \t\r\n\"")
	return bytes.HasPrefix(head, []byte("{")) || bytes.HasPrefix(head, []byte("calsplice")) ||
		bytes.HasPrefix(head, []byte("PK\x03\x04")), nil
}
