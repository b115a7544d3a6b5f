package rows

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"runtime"
	"sync"
	"sync/atomic"

	"calsplice/tables"
	"calsplice/tables/drivelog/channel"
	"calsplice/tables/drivelog/dialect"
)

// Text is a log's bytes from its first row on, and how they are to be read.
type Text struct {
	*source
	D        *dialect.Dialect
	Workers  int   // 0 is one for each processor
	Piece    int64 // bytes that a worker reads at a time
	MaxLine  int   // bytes
	Progress func() func(done, size int64)
}

// piece is one run of whole lines on its way from the file to the consumer.
type piece struct {
	no    int // in the log's order
	buf   []byte
	text  []byte // the lines, in buf
	last  bool
	short bool // the packed stream ends early behind it
	batch Batch
	err   error
}

// pipeline reads a log piece by piece. Each worker parses a piece; then one of
// them hands the pieces over that come next in the log's order. So no processor
// waits for another to begin.
type pipeline struct {
	t     *Text
	parse func(buf []byte, last bool, b *Batch)
	take  func(b *Batch, line int) error
	free  chan *piece

	reading sync.Mutex
	text    io.Reader    // from the first row on
	read    atomic.Int64 // bytes of the file
	rest    []byte       // what the piece before left of its last line
	cuts    int          // pieces that were cut
	ended   bool

	order  sync.Mutex
	parsed []*piece // by number, modulo the pieces that there are
	next   int      // number of the piece to take next
	taking bool
	giver  int // worker that handed the last one over

	line  int    // file line on which the next piece begins
	open  []byte // a record that the piece before did not end
	again Batch
	tell  func(done, size int64)
}

// EachPiece reads a log from its first row, piece by piece, each cut at line
// ends. Workers parse the pieces; take gets the batches in the log's order, one
// at a time, with the file line on which each begins. At most a few pieces are
// on their way, so that memory does not grow with the log.
func (t *Text) EachPiece(ctx context.Context, parse func(buf []byte, last bool, b *Batch), take func(b *Batch, line int) error) error {
	workers := t.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	// One piece for each worker, one that waits for its turn, and one that is handed
	// over: with fewer, workers wait; with more, memory grows and nothing is won.
	depth := workers + 2
	w := &pipeline{t: t, parse: parse, take: take, free: make(chan *piece, depth), parsed: make([]*piece, depth), line: t.D.FirstLine}
	for range depth {
		w.free <- &piece{}
	}
	if t.Progress != nil {
		w.tell = t.Progress()
	}
	r, done, err := t.stream(t.D.Enc, &w.read)
	if err != nil {
		return err
	}
	defer done()
	if _, err := io.CopyN(io.Discard, r, t.D.DataStart); err != nil {
		return tables.In(t.name, 0, 0, "", err)
	}
	w.text = r
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	var wg sync.WaitGroup
	for worker := range workers {
		wg.Go(func() {
			if err := w.work(ctx, worker); err != nil {
				stop(err)
			}
		})
	}
	wg.Wait()
	if w.tell != nil {
		w.tell(t.size, t.size)
	}
	return context.Cause(ctx)
}

// work reads pieces until there are no more.
func (w *pipeline) work(ctx context.Context, worker int) error {
	for {
		p := w.cut(ctx)
		if p == nil {
			return w.handOver(ctx, worker)
		}
		if p.err == nil {
			w.parse(p.text, p.last, &p.batch)
		}
		// The last row of a stream that was cut off is torn by that, and is counted once.
		if p.short {
			p.batch.Faults[torn].count = 0
			p.batch.Faults[torn].lines = p.batch.Faults[torn].lines[:0]
			p.batch.Faults.Note(torn, p.batch.lines, "the %s stream ends early", packingNames[w.t.pack])
		}
		if !w.parsedPiece(p, worker) {
			continue
		}
		if err := w.handOver(ctx, worker); err != nil {
			return err
		}
	}
}

// parsedPiece puts a piece where its turn finds it, and reports whether this
// worker should hand over: it does if it did so before, since what the consumer
// fills is in its processor's cache, or if the one that did is behind.
func (w *pipeline) parsedPiece(p *piece, worker int) bool {
	w.order.Lock()
	defer w.order.Unlock()
	w.parsed[p.no%len(w.parsed)] = p
	return worker == w.giver || len(w.free) == 0
}

// handOver hands the pieces over whose turn it is, unless another worker does.
func (w *pipeline) handOver(ctx context.Context, worker int) error {
	w.order.Lock()
	defer w.order.Unlock()
	for !w.taking {
		turn := &w.parsed[w.next%len(w.parsed)]
		p := *turn
		if p == nil || ctx.Err() != nil {
			return nil
		}
		*turn, w.taking, w.giver = nil, true, worker
		w.order.Unlock()
		err := w.takePiece(p)
		w.order.Lock()
		if err != nil {
			return err // still taking, so that nobody goes on
		}
		w.taking = false
		w.next++
		w.free <- p
	}
	return nil
}

// takePiece hands one batch over. A record that its piece does not end is read
// anew together with the next piece.
func (w *pipeline) takePiece(p *piece) error {
	b, text := &p.batch, p.text
	if p.err == nil && len(w.open) > 0 {
		text = append(w.open, p.text...)
		b = &w.again
		w.parse(text, p.last, b)
	}
	w.open = nil
	// What went wrong in a piece is told when its turn comes, so that the first fault of
	// the log is the one that is reported, whichever worker met it.
	switch {
	case p.err != nil:
		return tables.In(w.t.name, w.line, 0, "", p.err)
	case b.other >= 0:
		return &tables.Fault{File: w.t.name, Line: w.line + b.other, What: channel.OtherHeader}
	}
	b.text = text
	if err := w.take(b, w.line); err != nil {
		return err
	}
	w.line += b.lines
	if b.tail >= 0 {
		w.open = bytes.Clone(text[b.tail:])
	}
	if w.tell != nil {
		w.tell(w.read.Load(), w.t.size) // of a packed log, packed bytes
	}
	return nil
}

// lineTooLong says so with the bound and what moves it.
func lineTooLong(most int) error {
	return fmt.Errorf("the line is longer than %d bytes: --max-line", most)
}

// errEnough ends a look through the log.
var errEnough = errors.New("enough was seen")

// EachLine hands over the lines themselves, blank ones aside, in order, until take
// has seen enough.
func (t *Text) EachLine(ctx context.Context, take func(line []byte) (enough bool)) (enough bool, err error) {
	count := func(buf []byte, _ bool, b *Batch) {
		b.begin(0, 0)
		b.lines = bytes.Count(buf, []byte{t.D.EOL})
	}
	err = t.EachPiece(ctx, count, func(b *Batch, _ int) error {
		for text := b.text; len(text) > 0; {
			end, next := dialect.LineEnd(text, 0, t.D.EOL)
			if line := dialect.TrimEnd(text[:end]); len(dialect.TrimBlanks(line)) > 0 && take(line) {
				return errEnough
			}
			text = text[next:]
		}
		return nil
	})
	if err == errEnough {
		return true, nil
	}
	return false, err
}
