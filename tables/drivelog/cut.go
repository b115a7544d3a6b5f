package drivelog

import (
	"bytes"
	"context"
	"errors"
	"io"
	"sync/atomic"
)

var errLong = errors.New("a line is too long")

// freePiece waits for a piece that nobody holds; nil when the context ends.
func (w *pipeline) freePiece(ctx context.Context) *piece {
	select {
	case p := <-w.free:
		p.err, p.last, p.short = nil, false, false
		return p
	case <-ctx.Done():
		return nil
	}
}

// cutPlain cuts a file that can be read anywhere: workers fetch their pieces
// themselves.
func (w *pipeline) cutPlain() (next func(context.Context) *piece) {
	var count atomic.Int64
	return func(ctx context.Context) *piece {
		p := w.freePiece(ctx)
		if p == nil {
			return nil
		}
		no := count.Add(1) - 1
		p.no, p.off = int(no), w.l.d.dataStart+no*w.l.opt.pieceSize()
		if p.off >= w.l.src.size {
			w.free <- p // for another worker to see the end
			return nil
		}
		return p
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
func (w *pipeline) cutStream(ctx context.Context, cut chan<- *piece) {
	var rest []byte
	l := w.l
	r, err := l.src.stream(l.d.enc)
	if err == nil {
		defer r.Close()
		_, err = io.CopyN(io.Discard, r, l.d.dataStart)
	}
	for no := 0; ; no++ {
		p := w.freePiece(ctx)
		if p == nil {
			return
		}
		p.no, p.off = no, -1
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
		if err == nil {
			cut <- p
			continue
		}
		p.text, p.last = p.buf, true
		p.short = errors.Is(err, errCutShort)
		if err != io.EOF && err != io.ErrUnexpectedEOF && !p.short {
			p.err = err
		}
		cut <- p
		return
	}
}
