package knock

import (
	"math"
	"slices"
)

// observation is one stay as the causes compete over it.
type observation struct {
	heard  bool
	need   float64 // degrees, where knock was heard
	most   float64 // degrees that the need is not above, where none was
	weight float64
	load   float64 // share of the highest
	speed  float64 // ln of the speed over 2500 r/min
	heat   float64 // K over a normal charge
	rich   float64 // %
	lean   float64 // %; 0 where not known
	bin    int
	time   int // order in the drive
}

// Normal temperatures, and what they are worth: 10 K of coolant count as 7 K of
// intake air, and those as about a degree of spark (Russ, SAE 960497, from
// memory).
const (
	normalIntake  = 35.0
	normalCoolant = 90.0
	coolantWorth  = 0.7
)

const loaded = 0.55 // share of the drive's highest load from which an engine knocks

func (d *Drive) observations() []observation {
	var list []observation
	for i := range d.Stays {
		s := &d.Stays[i]
		if s.cut > 0.3*s.Seconds || !s.Knocked() && (s.Share < loaded || s.Seconds < 0.3 || math.IsInf(s.Quiet, 1)) {
			continue
		}
		o := observation{heard: s.Knocked(), need: s.Need, most: s.Quiet, weight: s.weight(),
			load: s.Share, rich: 100 * s.Rich, speed: math.Log(s.Speed / 2500), bin: s.Bin, time: i}
		if o.heard {
			o.need = s.Needed()
		}
		if s.Intake == s.Intake {
			o.heat = s.Intake - normalIntake
			if s.Coolant == s.Coolant {
				o.heat += coolantWorth * (s.Coolant - normalCoolant)
			}
		}
		if s.Lean == s.Lean {
			o.lean = 100 * s.Lean
		}
		list = append(list, o)
	}
	return list
}

// model is a need that is linear in its parameters, each kept within bounds.
type model struct {
	columns   [][]float64 // by parameter and observation
	low, high []float64
	prior     []float64 // value, and how much it counts: 0 for free
	weight    []float64
	value     []float64
	loss      float64
	rounds    int // of coordinate descent, at most
	predicted []float64
}

// term is one parameter of a fit: what it multiplies, its bounds, and a value
// that it keeps to where the drive does not say, with how much that counts.
type term struct {
	of                     func(o *observation) float64
	low, high, prior, firm float64
}

type terms []term

func newModel(obs []observation, list terms) model {
	m := model{rounds: 300}
	for _, t := range list {
		m = m.with(column(obs, t.of), t.low, t.high, t.prior, t.firm)
	}
	return m
}

// with is the model with one more parameter.
func (m model) with(c []float64, low, high, prior, firm float64) model {
	return model{rounds: m.rounds, columns: append(slices.Clip(m.columns), c), low: append(slices.Clip(m.low), low), high: append(slices.Clip(m.high), high),
		prior: append(slices.Clip(m.prior), prior), weight: append(slices.Clip(m.weight), firm)}
}

func fit(obs []observation, list terms) *model {
	m := newModel(obs, list)
	m.fit(obs)
	return &m
}

const quietSlack = 0.3 // degrees that a limit is soft

// fit minimises the weighted squared error; where no knock was heard only a need
// above the bound is an error. Coordinate descent on the active set.
func (m *model) fit(obs []observation) {
	n := len(obs)
	m.value = make([]float64, len(m.columns))
	for k := range m.value {
		m.value[k] = min(max(m.prior[k], m.low[k]), m.high[k])
	}
	p := make([]float64, n)
	predict := func() {
		for i := range p {
			p[i] = 0
			for k, c := range m.columns {
				p[i] += m.value[k] * c[i]
			}
		}
	}
	predict()
	residual := func(i int) (float64, float64) { // error, weight
		o := &obs[i]
		if o.heard {
			e := o.need - p[i]
			w := o.weight
			if a := math.Abs(e); a > 2 {
				w *= 2 / a
			}
			return e, w
		}
		if e := o.most + quietSlack - p[i]; e < 0 {
			w := o.weight
			if e < -2 {
				w *= -2 / e
			}
			return e, w
		}
		return 0, 0
	}
	for range m.rounds {
		moved := 0.0
		for k, c := range m.columns {
			num, den := m.weight[k]*(m.prior[k]-m.value[k]), m.weight[k]+1e-9
			for i := range p {
				if c[i] == 0 {
					continue
				}
				e, w := residual(i)
				num += w * e * c[i]
				den += w * c[i] * c[i]
			}
			step := min(max(m.value[k]+num/den, m.low[k]), m.high[k]) - m.value[k]
			if step == 0 {
				continue
			}
			moved = max(moved, math.Abs(step))
			m.value[k] += step
			for i := range p {
				p[i] += step * c[i]
			}
		}
		if moved < 1e-3 {
			break
		}
	}
	m.loss = 0
	for i := range p {
		e, w := residual(i)
		m.loss += w * e * e
	}
	m.predicted = p
}

func column(obs []observation, of func(o *observation) float64) []float64 {
	c := make([]float64, len(obs))
	for i := range obs {
		c[i] = of(&obs[i])
	}
	return c
}
