package cells

import (
	"encoding/base64"
	"fmt"
	"math"
	"strings"

	"calsplice/interp/cells/exact"
	"calsplice/interp/cells/tally"
	"calsplice/tables"
)

// folds are the parts of a drive that cross-validation leaves out in turn, and
// the groups of its jackknife: blocks of time, dealt to them one after the
// other, so that neighbouring samples and whole visits mostly share one.
const folds = 10

// foldSeconds is the length of such a block.
const foldSeconds = 32

// The sums of a node of a surface: over all samples, the node's weight times
// that of itself and of its neighbours that come after it, and times the value.
const (
	withSelf = iota
	withEast
	withSouthWest // the neighbour one row on and one column back
	withSouth
	withSouthEast
	withValue
	nodeSums
)

// partners are where a node's partners stand from it, in columns and rows.
var partners = [withValue][2]int{{0, 0}, {1, 0}, {-1, 1}, {0, 1}, {1, 1}}

// normal is the least-squares evidence of one channel for the values at the
// breakpoints, by fold: the normal equations, exactly.
type normal struct {
	nodes  [folds][]*[nodeSums]exact.Sum
	square [folds]exact.Sum // Σ value²
}

// normalLog is the same of one log while it is read, whose samples come in one
// order.
type normalLog struct {
	nodes  [folds][]*[nodeSums]exact.Double
	square [folds]exact.Double
}

func newNormal(size int) *normal {
	n := &normal{}
	for k := range n.nodes {
		n.nodes[k] = make([]*[nodeSums]exact.Sum, size)
	}
	return n
}

func newNormalLog(size int) *normalLog {
	n := &normalLog{}
	for k := range n.nodes {
		n.nodes[k] = make([]*[nodeSums]exact.Double, size)
	}
	return n
}

// at is a node's sums, made where there were none.
func (n *normal) at(fold, node int) *[nodeSums]exact.Sum {
	p := &n.nodes[fold][node]
	if *p == nil {
		*p = new([nodeSums]exact.Sum)
	}
	return *p
}

// add takes a sample at the place between four nodes that corner describes.
func (n *normalLog) add(now float64, c corner, v float64) {
	fold := int(math.Mod(math.Floor(now/foldSeconds), folds))
	if !(fold >= 0) { // before time 0, or no time
		fold = 0
	}
	n.square[fold].AddProduct(v, v)
	at := func(node int) *[nodeSums]exact.Double {
		p := &n.nodes[fold][node]
		if *p == nil {
			*p = new([nodeSums]exact.Double)
		}
		return *p
	}
	w := c.weights()
	nw, ne, sw, se := w[0], w[1], w[2], w[3]
	pair := func(node, with int, a, b float64) {
		if p := a * b; p > 0 {
			at(node)[with].Add(p)
		}
	}
	i := c.node
	pair(i, withSelf, nw, nw)
	pair(i, withEast, nw, ne)
	pair(i, withSouth, nw, sw)
	pair(i, withSouthEast, nw, se)
	pair(i+1, withSelf, ne, ne)
	pair(i+1, withSouthWest, ne, sw)
	pair(i+1, withSouth, ne, se)
	pair(i+c.columns, withSelf, sw, sw)
	pair(i+c.columns, withEast, sw, se)
	pair(i+c.columns+1, withSelf, se, se)
	for k, w := range w {
		if w > 0 {
			at(i + k%2 + k/2*c.columns)[withValue].AddProduct(w, v)
		}
	}
}

// corner is a place among four nodes: the first of them and the shares of the
// next column and row.
type corner struct {
	node, columns int
	u, v          float64
}

// weights are the shares of the four nodes, row after row.
func (c corner) weights() [4]float64 {
	return [4]float64{(1 - c.u) * (1 - c.v), c.u * (1 - c.v), (1 - c.u) * c.v, c.u * c.v}
}

// into adds a log's sums, each rounded once.
func (n *normalLog) into(to *normal) {
	for k := range n.nodes {
		n.square[k].Into(&to.square[k])
		for i, sums := range n.nodes[k] {
			if sums == nil {
				continue
			}
			t := to.at(k, i)
			for j := range sums {
				sums[j].Into(&t[j])
			}
		}
	}
}

func (n *normal) merge(o *normal) {
	for k := range o.nodes {
		n.square[k].AddSum(&o.square[k])
		for i, sums := range o.nodes[k] {
			if sums == nil {
				continue
			}
			t := n.at(k, i)
			for j := range sums {
				t[j].AddSum(&sums[j])
			}
		}
	}
}

// surfaceMark is what the keys of a surface's state have behind the channel.
const surfaceMark = "~surface"

// state is the surface's part of the document's state: `channel~surface` with
// the squares, and for each node that has evidence `channel~surface[r,c]` with
// fold after fold its sums.
func (n *normal) state(channel string, columns int) []tables.ExtraKey {
	quote := func(b []byte) string { return `"` + base64.RawStdEncoding.EncodeToString(b) + `"` }
	var b []byte
	for k := range n.square {
		b = n.square[k].Append(b)
	}
	keys := []tables.ExtraKey{{Key: channel + surfaceMark, Value: quote(b)}}
	for i := range n.nodes[0] {
		b = b[:0]
		for k := range n.nodes {
			if sums := n.nodes[k][i]; sums != nil {
				b = append(b, byte(k))
				for j := range sums {
					b = sums[j].Append(b)
				}
			}
		}
		if len(b) > 0 {
			keys = append(keys, tables.ExtraKey{Key: fmt.Sprintf("%s%s[%d,%d]", channel, surfaceMark, i/columns, i%columns), Value: quote(b)})
		}
	}
	return keys
}

// addEncoded adds what one key of a surface's state holds; node is −1 for the
// squares.
func (n *normal) addEncoded(node, columns int, b []byte) error {
	var err error
	if node < 0 {
		for k := range n.square {
			if b, err = n.square[k].AddEncoded(b); err != nil {
				return tally.ErrState
			}
		}
	}
	for node >= 0 && len(b) > 0 {
		k := int(b[0])
		if k >= folds {
			return tally.ErrState
		}
		b = b[1:]
		sums := n.at(k, node)
		for j := range sums {
			if b, err = sums[j].AddEncoded(b); err != nil {
				return tally.ErrState
			}
		}
		for j, d := range partners {
			x, y := node%columns+d[0], node/columns+d[1]
			if outside := x < 0 || x >= columns || y*columns >= len(n.nodes[k]); outside && sums[j].Float64() != 0 {
				return tally.ErrState
			}
		}
	}
	if len(b) > 0 {
		return tally.ErrState
	}
	return nil
}

// findSurface is the channel and node that a key of a surface's state names.
func (g *Grid) findSurface(key string) (n *normal, node int, ok bool) {
	name, place, _ := strings.Cut(key, surfaceMark)
	for i := range g.channels {
		if ch := &g.channels[i]; ch.name == name && ch.surface != nil {
			if place == "" {
				return ch.surface, -1, true
			}
			_, at, ok := g.findKey(name + place)
			return ch.surface, at, ok
		}
	}
	return nil, 0, false
}
