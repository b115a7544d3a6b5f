package drivelog

import (
	"bytes"
	"context"
	"errors"
	"io"
	"runtime"
	"strings"
	"sync"

	"calsplice/tables"
)

// piece is one run of whole lines on its way from the file to the consumer.
type piece struct {
	off   int64 // of the first byte at which one of its lines may begin; packed logs have buf instead
	buf   []byte
	text  []byte // the lines, in buf
	last  bool
	short bool // the packed stream ends early behind it
	batch batch
	err   error
	done  chan struct{}
}

// eachPiece reads a log from its first row, piece by piece, each cut at line
// ends. Workers parse the pieces; take gets the batches in the log's order,
// from this goroutine, with the file line on which each begins. At most a few
// pieces are on their way, so that memory does not grow with the log.
func (l *Log) eachPiece(ctx context.Context, parse func(buf []byte, last bool, b *batch), take func(b *batch, line int) error) error {
	workers := l.opt.Workers
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	ctx, cancel := context.WithCancel(ctx)
	var wg sync.WaitGroup
	defer wg.Wait()
	defer cancel()
	depth := workers + 2
	free, jobs, order := make(chan *piece, depth), make(chan *piece, depth), make(chan *piece, depth)
	for range depth {
		free <- &piece{done: make(chan struct{}, 1)}
	}
	cut := l.cutPlain
	if l.src.pack != plain || l.d.enc == utf16LE || l.d.enc == utf16BE {
		cut = l.cutStream
	}
	wg.Add(1 + workers)
	go func() {
		defer wg.Done()
		defer close(order)
		defer close(jobs)
		cut(ctx, free, func(p *piece) {
			order <- p
			jobs <- p
		})
	}()
	for range workers {
		go func() {
			defer wg.Done()
			for p := range jobs {
				if p.off >= 0 {
					l.fetch(p)
				}
				if p.err == nil {
					parse(p.text, p.last, &p.batch)
				}
				if p.short {
					p.batch.faults[torn].count = 0
					p.batch.faults[torn].lines = p.batch.faults[torn].lines[:0]
					p.batch.faults.note(torn, p.batch.lines, "the %s stream ends early", packingNames[l.src.pack])
				}
				p.done <- struct{}{}
			}
		}()
	}
	return l.inOrder(ctx, order, free, parse, take)
}

// eachText is eachPiece for what can only be done in order: take gets the
// lines themselves.
func (l *Log) eachText(ctx context.Context, take func(line []byte, no int) error) error {
	count := func(buf []byte, _ bool, b *batch) {
		b.lines, b.tail, b.err = bytes.Count(buf, []byte{l.d.eol}), -1, nil
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

// inOrder hands batches over as they were cut. A record that its piece does
// not end is read anew together with the next piece.
func (l *Log) inOrder(ctx context.Context, order <-chan *piece, free chan<- *piece,
	parse func(buf []byte, last bool, b *batch), take func(b *batch, line int) error) error {
	line := l.d.firstLine
	var open []byte
	var again batch
	var done int64
	for p := range order {
		<-p.done
		if err := ctx.Err(); err != nil {
			return err
		}
		b, text := &p.batch, p.text
		if p.err == nil && len(open) > 0 {
			text = append(open, p.text...)
			b = &again
			parse(text, p.last, b)
		}
		open = nil
		switch {
		case errors.Is(p.err, errLong):
			return lineTooLong(l.name, line+b.lines, l.opt.maxLine())
		case p.err != nil:
			return &tables.Fault{File: l.name, Line: line, What: l.streamError(p.err)}
		case b.err != nil:
			return b.err
		}
		b.text = text
		if err := take(b, line); err != nil {
			return err
		}
		line += b.lines
		if b.tail >= 0 {
			open = bytes.Clone(text[b.tail:])
		}
		done += int64(len(p.text))
		if l.opt.Progress != nil {
			l.progress(p, done)
		}
		free <- p
	}
	return ctx.Err()
}

func (l *Log) streamError(err error) string {
	if l.src.pack == plain {
		return err.Error()
	}
	name := packingNames[l.src.pack]
	return name + " stream: " + strings.TrimPrefix(err.Error(), name+": ")
}

// progress tells how much of the file was read: of a packed one, packed bytes.
func (l *Log) progress(p *piece, done int64) {
	if p.off < 0 {
		done = l.src.read.Load()
	}
	l.opt.Progress(done, l.src.size)
}

var errLong = errors.New("a line is too long")

// cutPlain cuts a file that can be read anywhere: workers fetch their pieces
// themselves.
func (l *Log) cutPlain(ctx context.Context, free <-chan *piece, give func(*piece)) {
	for off := l.d.dataStart; off < l.src.size; off += l.opt.pieceSize() {
		select {
		case p := <-free:
			p.off, p.err, p.last, p.short = off, nil, false, false
			give(p)
		case <-ctx.Done():
			return
		}
	}
}

// fetch reads the lines that begin in a piece: from behind the first line end
// at or after the byte before it, to the end of the line that runs out of it.
func (l *Log) fetch(p *piece) {
	const slack = 4 << 10
	from, nominal := p.off, min(p.off+l.opt.pieceSize(), l.src.size)
	if p.off > l.d.dataStart {
		from--
	}
	p.text, p.batch.lines = nil, 0
	need := int(nominal-from) + slack
	if cap(p.buf) < need {
		p.buf = make([]byte, need+slack)
	}
	p.buf = p.buf[:cap(p.buf)]
	have, err := l.readAt(p.buf, from)
	if err != nil {
		p.err = err
		return
	}
	begin := 0
	if p.off > l.d.dataStart {
		i := bytes.IndexByte(p.buf[:min(have, int(nominal-from))], l.d.eol)
		if i < 0 {
			return // a line that began before runs through
		}
		if begin = i + 1; from+int64(begin) >= nominal {
			return
		}
	}
	for look := int(nominal-from) - 1; ; {
		if i := bytes.IndexByte(p.buf[look:have], l.d.eol); i >= 0 {
			p.text = p.buf[begin : look+i+1]
			p.last = from+int64(look+i+1) >= l.src.size
			return
		}
		if from+int64(have) >= l.src.size {
			p.text, p.last = p.buf[begin:have], true
			return
		}
		if have-begin > l.opt.maxLine()+int(l.opt.pieceSize()) {
			p.batch.lines = bytes.Count(p.buf[begin:have], []byte{l.d.eol})
			p.err = errLong
			return
		}
		look = have
		p.buf = append(p.buf[:have], make([]byte, max(have, slack))...)
		more, err := l.readAt(p.buf[have:], from+int64(have))
		if have += more; err != nil {
			p.err = err
			return
		}
	}
}

func (l *Log) readAt(b []byte, off int64) (int, error) {
	if rest := l.src.size - off; int64(len(b)) > rest {
		b = b[:rest]
	}
	n, err := l.src.at.ReadAt(b, off)
	if err == io.EOF {
		err = nil
	}
	return n, err
}

// cutStream cuts what can only be read from its start: packed logs and UTF-16.
func (l *Log) cutStream(ctx context.Context, free <-chan *piece, give func(*piece)) {
	var rest []byte
	r, err := l.src.stream(l.d.enc)
	if err == nil {
		defer r.Close()
		_, err = io.CopyN(io.Discard, r, l.d.dataStart)
	}
	for end := false; !end; {
		var p *piece
		select {
		case p = <-free:
		case <-ctx.Done():
			return
		}
		p.off, p.err = -1, nil
		p.buf = append(p.buf[:0], rest...)
		for cut := 0; cut == 0 && err == nil; {
			room := len(p.buf)
			p.buf = append(p.buf, make([]byte, l.opt.pieceSize())...)
			var n int
			n, err = io.ReadFull(r, p.buf[room:])
			p.buf = p.buf[:room+n]
			cut = bytes.LastIndexByte(p.buf, l.d.eol) + 1
			if cut == 0 && len(p.buf) > l.opt.maxLine() {
				err = errLong
			}
			if err == nil {
				p.text, rest = p.buf[:cut], append(rest[:0], p.buf[cut:]...)
			}
		}
		if err != nil {
			end = true
			p.text, p.last = p.buf, true
			p.short = errors.Is(err, errCutShort)
			if err != io.EOF && err != io.ErrUnexpectedEOF && !p.short {
				p.err = err
			}
		} else {
			p.last, p.short = false, false
		}
		give(p)
	}
}
