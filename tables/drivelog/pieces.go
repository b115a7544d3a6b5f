package drivelog

import (
	"bytes"
	"context"
	"errors"
	"runtime"
	"strings"
	"sync"

	"calsplice/tables"
)

// piece is one run of whole lines on its way from the file to the consumer.
type piece struct {
	no    int   // in the log's order
	off   int64 // of the first byte at which one of its lines may begin; packed logs have buf instead
	buf   []byte
	text  []byte // the lines, in buf
	last  bool
	short bool // the packed stream ends early behind it
	batch batch
	err   error
}

// pipeline reads a log piece by piece. Each worker parses a piece; then one of
// them hands the pieces over that come next in the log's order. So no processor
// waits for another to begin.
type pipeline struct {
	l     *Log
	parse func(buf []byte, last bool, b *batch)
	take  func(b *batch, line int) error
	free  chan *piece
	cut   func(context.Context) *piece // the next one; nil behind the last

	order  sync.Mutex
	parsed []*piece // by number, modulo the pieces that there are
	next   int      // number of the piece to take next
	taking bool
	giver  int // worker that handed the last one over

	line  int    // file line on which the next piece begins
	open  []byte // a record that the piece before did not end
	again batch
	done  int64 // bytes taken
	tell  func(done, size int64)
}

// eachPiece reads a log from its first row, piece by piece, each cut at line
// ends. Workers parse the pieces; take gets the batches in the log's order, one
// at a time, with the file line on which each begins. At most a few pieces are
// on their way, so that memory does not grow with the log.
func (l *Log) eachPiece(ctx context.Context, parse func(buf []byte, last bool, b *batch), take func(b *batch, line int) error) error {
	workers := l.opt.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	depth := workers + 2
	w := &pipeline{l: l, parse: parse, take: take, free: make(chan *piece, depth), parsed: make([]*piece, depth), line: l.d.firstLine}
	for range depth {
		w.free <- &piece{}
	}
	if l.opt.Progress != nil {
		w.tell = l.opt.Progress()
	}
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	var wg sync.WaitGroup
	w.cut = w.cutPlain()
	if l.src.pack != plain || l.d.enc == utf16LE || l.d.enc == utf16BE {
		cut := make(chan *piece, depth)
		w.cut = func(context.Context) *piece { return <-cut }
		wg.Go(func() {
			defer close(cut)
			w.cutStream(ctx, cut)
		})
	}
	for worker := range workers {
		wg.Go(func() {
			if err := w.work(ctx, worker); err != nil {
				stop(err)
			}
		})
	}
	wg.Wait()
	if w.tell != nil {
		w.tell(l.src.size, l.src.size)
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
		if p.off >= 0 {
			w.l.fetch(p)
		}
		if p.err == nil {
			w.parse(p.text, p.last, &p.batch)
		}
		if p.short {
			p.batch.faults[torn].count = 0
			p.batch.faults[torn].lines = p.batch.faults[torn].lines[:0]
			p.batch.faults.note(torn, p.batch.lines, "the %s stream ends early", packingNames[w.l.src.pack])
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
	switch {
	case errors.Is(p.err, errLong):
		return lineTooLong(w.l.name, w.line+b.lines, w.l.opt.maxLine())
	case p.err != nil:
		return &tables.Fault{File: w.l.name, Line: w.line, What: w.l.streamError(p.err)}
	case b.err != nil:
		return b.err
	case b.other >= 0:
		return &tables.Fault{File: w.l.name, Line: w.line + b.other, What: otherHeader}
	}
	b.text = text
	if err := w.take(b, w.line); err != nil {
		return err
	}
	w.line += b.lines
	if b.tail >= 0 {
		w.open = bytes.Clone(text[b.tail:])
	}
	w.done += int64(len(p.text))
	if w.tell != nil {
		w.tell(w.l.progress(p, w.done), w.l.src.size)
	}
	return nil
}

// eachText is eachPiece for what can only be done in order: take gets the
// lines themselves.
func (l *Log) eachText(ctx context.Context, take func(line []byte, no int) error) error {
	count := func(buf []byte, _ bool, b *batch) {
		b.lines, b.tail, b.other, b.err = bytes.Count(buf, []byte{l.d.eol}), -1, -1, nil
	}
	return l.eachPiece(ctx, count, func(b *batch, line int) error {
		for text := b.text; len(text) > 0; line++ {
			end, next := lineEnd(text, 0, l.d.eol)
			if err := take(trimEnd(text[:end]), line); err != nil {
				return err
			}
			text = text[next:]
		}
		return nil
	})
}

func (l *Log) streamError(err error) string {
	if l.src.pack == plain {
		return err.Error()
	}
	name := packingNames[l.src.pack]
	return name + " stream: " + strings.TrimPrefix(err.Error(), name+": ")
}

// progress is how much of the file was read: of a packed one, packed bytes.
func (l *Log) progress(p *piece, done int64) int64 {
	if p.off < 0 {
		return l.src.read.Load()
	}
	return done
}
