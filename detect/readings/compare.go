package readings

// Relation is how two numbers are compared.
type Relation string

const (
	Above   Relation = ">"
	AtLeast Relation = ">="
	Below   Relation = "<"
	AtMost  Relation = "<="
	Equal   Relation = "=="
	Unequal Relation = "!="
)

// Compare is where a stands in the relation to b. Below and AtMost are exact
// mirrors of Above and AtLeast; Equal is meant for held numbers: a continuous
// number equals another on single points only, which have no length.
func Compare(a Number, r Relation, b Number, windows Spans) Condition {
	switch r {
	case Below:
		return Compare(b, Above, a, windows)
	case AtMost:
		return Compare(b, AtLeast, a, windows)
	case Unequal:
		return Not(Compare(a, Equal, b, windows), windows)
	case Equal:
		return And(Compare(a, AtLeast, b, windows), Compare(b, AtLeast, a, windows))
	}
	orEqual := r == AtLeast
	difference := combine(a.Nominal, b.Nominal, minus)
	c := Condition{
		True:     difference.positive(orEqual),
		False:    difference.negated().positive(!orEqual),
		Certain:  combine(a.Low, b.High, minus).positive(orEqual),
		Possible: combine(a.High, b.Low, minus).negated().positive(!orEqual).Complement(windows),
	}
	return c
}

func (c Curve) negated() Curve { return c.mapped(func(x float64) float64 { return -x }) }

// positive is where the curve is above zero, or at least zero.
func (c Curve) positive(orEqual bool) Spans {
	var out Spans
	for _, p := range c {
		switch {
		case p.From > 0 && p.To > 0:
			out = out.add(Span{p.Start, p.End})
		case p.From == p.To: // at or below zero throughout
			if orEqual && p.From == 0 {
				out = out.add(Span{p.Start, p.End})
			}
		case p.From >= 0 && p.To >= 0: // touches zero at one end, a point
			out = out.add(Span{p.Start, p.End})
		case p.From > 0:
			out = out.add(Span{p.Start, crossing(p)})
		case p.To > 0:
			out = out.add(Span{crossing(p), p.End})
		}
	}
	return out
}

func crossing(p Piece) float64 {
	return p.Start + (p.End-p.Start)*p.From/(p.From-p.To)
}
