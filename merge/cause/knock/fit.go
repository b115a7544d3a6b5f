package knock

import (
	"math"
	"slices"

	"calsplice/interp/drive"
)

// observation is one stay as the causes compete over it: what it says of the need, and
// what the causes may make that need of.
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

// observations are the stays that say something of the need: with knock wherever that was,
// without it where the engine was loaded, listened to for a moment, and not cut. Quiet at
// light load says nothing: there an engine does not knock on any fuel.
func (d *Drive) observations() []observation {
	var list []observation
	for i := range d.Stays {
		s := &d.Stays[i]
		if s.cut > 0.3*s.Seconds || !s.Knocked() && (s.Share < loaded || s.Seconds < 0.3 || math.IsInf(s.Quiet, 1)) {
			continue
		}
		o := observation{heard: s.Knocked(), need: s.Need, most: s.Quiet, weight: s.weight(),
			load: s.Share, rich: 100 * s.Rich, speed: drive.Log(s.Speed / 2500), bin: s.Bin, time: i}
		if o.heard {
			o.need = s.Needed()
		}
		if s.Intake == s.Intake {
			o.heat = s.Intake - normalIntake
			if s.Coolant == s.Coolant {
				o.heat += float64(coolantWorth * (s.Coolant - normalCoolant))
			}
		}
		if s.Lean == s.Lean {
			o.lean = 100 * s.Lean
		}
		list = append(list, o)
	}
	return list
}

// term is one parameter of a fit: what it multiplies, its bounds, and a value
// that it keeps to where the drive does not say, with how much that counts.
type term struct {
	of                     func(o *observation) float64
	low, high, prior, firm float64
}

type terms []term

// model is a need that is linear in its parameters, each kept within bounds.
type model struct {
	goals   []goal
	terms   terms
	columns [][]float64 // by term and observation: what the parameter multiplies
	most    []float64   // by observation: the need is no more, whatever the parameters
	rounds  int         // of coordinate descent, at most
	value   []float64   // by term, once it is fitted
	loss    float64
}

// goal is what an observation asks of a need: to be so much where knock was heard,
// no more where none was.
type goal struct {
	at, weight float64
	heard      bool
}

const quietSlack = 0.3 // degrees that a limit is soft

// miss is by how much a need misses the goal, and how much that counts: errors past
// 2 degrees by their size, not by its square.
func (g *goal) miss(need float64) (by, weight float64) {
	if by = g.at - need; by >= 0 && !g.heard {
		return 0, 0
	}
	if a := math.Abs(by); a > 2 {
		return by, g.weight * (2 / a)
	}
	return by, g.weight
}

// newModel is a model of observations before its fit. A limit that was not passed is taken
// as a little softer than it was read: retard moves in steps.
func newModel(obs []observation, list terms) model {
	m := model{rounds: 300, most: make([]float64, len(obs))}
	for i := range obs {
		g := goal{obs[i].need, obs[i].weight, obs[i].heard}
		if !g.heard {
			g.at = obs[i].most + quietSlack
		}
		m.goals = append(m.goals, g)
	}
	for _, t := range list {
		c := make([]float64, len(obs))
		for i := range obs {
			c[i] = t.of(&obs[i])
		}
		m = m.with(t, c)
	}
	return m
}

// with is the model with one more parameter, which multiplies c.
func (m model) with(t term, c []float64) model {
	m.terms, m.columns, m.most = append(slices.Clip(m.terms), t), append(slices.Clip(m.columns), c), slices.Clone(m.most)
	for i, c := range c {
		if c != 0 {
			m.most[i] += max(t.low*c, t.high*c)
		}
	}
	return m
}

// fit is the fitted model of some terms.
func fit(obs []observation, list terms) *model {
	m := newModel(obs, list)
	m.fit()
	return &m
}

// need is what the model says that an observation needs.
func (m *model) need(i int) float64 {
	sum := 0.0
	for k, c := range m.columns {
		sum += float64(m.value[k] * c[i])
	}
	return sum
}

// rounding is far above what sums of degrees are off by.
const rounding = 1e-9

// past is what knock that asks for more than the highest need that there can be leaves
// of loss.
func (g *goal) past(most float64) float64 {
	if !g.heard || g.at <= most {
		return 0
	}
	e, w := g.miss(most)
	return float64(w * e * e)
}

// active are the goals that the parameters can miss, with their columns. Most of a
// drive is quiet with so much retard that no parameter within its bounds asks for as
// much: such a goal adds nothing to any sum.
func (m *model) active() (goals []goal, columns [][]float64) {
	goals = make([]goal, 0, len(m.goals))
	kept := make([]int, 0, len(m.goals))
	for i, g := range m.goals {
		if g.heard || !(m.most[i] < g.at-rounding) {
			goals, kept = append(goals, g), append(kept, i)
		}
	}
	for _, c := range m.columns {
		column := make([]float64, len(kept))
		for j, i := range kept {
			column[j] = c[i]
		}
		columns = append(columns, column)
	}
	return goals, columns
}

// fit minimises the weighted squared error; where no knock was heard only a need
// above the bound is an error. Coordinate descent: each parameter in turn takes the
// step that the errors at hand ask for.
func (m *model) fit() {
	goals, columns := m.active()
	m.value = make([]float64, len(m.terms))
	needs := make([]float64, len(goals))
	for k, t := range m.terms {
		m.value[k] = min(max(t.prior, t.low), t.high)
		drive.AddScaled(needs, m.value[k], columns[k])
	}
	step, stepped := 0.0, needs // the last step, which no need has seen yet, and its column
	for range m.rounds {
		moved := 0.0
		for k, t := range m.terms {
			num, den := descend(goals, needs, stepped, columns[k], step)
			num, den = float64(t.firm*(t.prior-m.value[k]))+num, t.firm+1e-9+den
			step, stepped = min(max(m.value[k]+num/den, t.low), t.high)-m.value[k], columns[k]
			m.value[k] += step
			moved = max(moved, math.Abs(step))
		}
		if moved < 1e-3 {
			break
		}
	}
	drive.AddScaled(needs, step, stepped)
	m.loss = 0
	for i := range goals {
		e, w := goals[i].miss(needs[i])
		m.loss += float64(w * e * e)
	}
}

// descend lets the needs follow the step of one parameter, and sums up what their
// errors then ask of the next one: the step and how firmly, in one pass, for a search
// does little else.
func descend(goals []goal, needs, stepped, column []float64, step float64) (num, den float64) {
	stepped, column = stepped[:len(goals)], column[:len(goals)]
	for i := range goals {
		needs[i] += float64(step * stepped[i])
		c := column[i]
		if c == 0 {
			continue
		}
		e, w := goals[i].miss(needs[i])
		num += float64(w * e * c)
		den += float64(w * c * c)
	}
	return num, den
}
