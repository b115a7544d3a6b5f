package main

import (
	"bufio"
	"bytes"
	"os"
	"slices"

	"calsplice/cmd/calsplice/view"
	"calsplice/merge"
	"calsplice/merge/caution"
	"calsplice/merge/propose"
	"calsplice/tables"
	"calsplice/tables/tablefile"
)

// proposal reads the documents, makes the proposal, writes the change set and
// reports.
func proposal(from func(in *propose.Input) (*propose.Proposal, error)) func(*input) {
	return func(in *input) {
		evidence := in.proposalInput()
		p := must(from(evidence))
		after := must(merge.Apply(evidence.Cal, p.Changes))
		cautions := slices.Concat(p.Report.First, p.Report.Cautions)
		if len(p.Report.Edits) > 0 {
			cautions = append(cautions, caution.Text())
		}
		in.deliver(result{beside: true, pages: true, view: func() *view.View { return view.Proposal(evidence.Cal, after, p) }, json: asJSON(&p.Report), cautions: cautions,
			found: len(p.Report.Edits) > 0, write: writesChanges(p.Changes, evidence.Cal)})
	}
}

// proposalInput reads a proposal's calibration and its evidence: drive logs, or
// cell averages, recognised by their content.
func (in *input) proposalInput() *propose.Input {
	in.onceStdout()
	cal := in.calibration(in.arg(0))
	if id := in.text("target"); id != "" {
		tableOf(cal, in.arg(0), id)
	}
	opt := in.logOptions()
	files := must(expand(in.rest()))
	opt.Engine = cal.Engine()
	p := &propose.Input{Context: in.ctx, Cal: cal, By: in.text("by"), Options: in.proposalOptions()}
	var logs []string
	for i, path := range files {
		if slices.Contains(files[:i], path) {
			check(&tables.Fault{File: path, What: "given twice: its samples would count twice"})
		}
		if !must(in.isDocument(path)) {
			logs = append(logs, path)
			continue
		}
		doc := in.doc(path)
		if doc.Kind() != tables.Cells {
			check(&tables.Fault{File: path, What: "this is a calibration, expected a drive log or cell averages"})
		}
		p.Cells, p.Files = append(p.Cells, doc), append(p.Files, path)
	}
	refuse(logs != nil && p.Cells != nil, "drive logs and cell averages cannot be mixed: gather the logs with calsplice cells first")
	if p.Logs = in.logs(logs, opt); logs != nil {
		limitMemory(judging)
	}
	return p
}

func (in *input) proposalOptions() propose.Options {
	return propose.Options{Target: in.text("target"), Gain: in.numberOr("gain", 1), Bound: in.number("bound"), MinCount: int(in.number("min-count")), MinVisits: int(in.number("min-visits")),
		OnlyVisited: in.yes("only-visited"), DespiteCause: in.yes("despite-cause"), DeadBand: in.number("dead-band"), RailPressure: in.number("rail-pressure")}
}

// isDocument reports whether a file is one of this program's documents rather
// than a drive log, by its first bytes, which stay to be read of standard input.
func (in *input) isDocument(path string) (bool, error) {
	from := in.stdin
	if path != "-" {
		f, err := os.Open(path)
		if err != nil {
			return false, tablefile.Plain(path, err)
		}
		defer f.Close()
		from = f
	}
	peeked := bufio.NewReader(from)
	if path == "-" {
		in.stdin = peeked
	}
	head, _ := peeked.Peek(64)
	head = bytes.TrimLeft(bytes.TrimPrefix(head, []byte("\xef\xbb\xbf")), " \t\r\n\"")
	return bytes.HasPrefix(head, []byte("{")) || bytes.HasPrefix(head, []byte("calsplice")) || bytes.HasPrefix(head, []byte("PK\x03\x04")), nil
}
