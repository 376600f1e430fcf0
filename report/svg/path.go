package svg

// Path is a line or a scatter of dots. Its steps are relative and in whole tenths, which
// is short and does not drift.
type Path struct {
	d    []byte
	x, y int64 // the pen, in tenths
	open bool
}

// newPath makes room for n points, but for no more than a thinned line needs.
func newPath(n int) *Path { return &Path{d: make([]byte, 0, 16+8*min(n, 4000))} }

// MoveTo lifts the pen and starts a new stretch.
func (p *Path) MoveTo(x, y float64) {
	p.x, p.y = tenths(x), tenths(y)
	p.d = append(p.d, 'M')
	p.d = appendTenths(p.d, p.x)
	p.d = append(p.d, ' ')
	p.d = appendTenths(p.d, p.y)
	p.open = true
}

// LineTo draws to a point, or starts there when the pen is lifted.
func (p *Path) LineTo(x, y float64) {
	if !p.open {
		p.MoveTo(x, y)
		return
	}
	tx, ty := tenths(x), tenths(y)
	dx, dy := tx-p.x, ty-p.y
	p.x, p.y = tx, ty
	switch {
	case dx == 0 && dy == 0:
	case dy == 0:
		p.d = appendTenths(append(p.d, 'h'), dx)
	case dx == 0:
		p.d = appendTenths(append(p.d, 'v'), dy)
	default:
		p.pair('l', dx, dy)
	}
}

// Lift ends the stretch: the next point starts a new one.
func (p *Path) Lift() { p.open = false }

// Dot draws a dot: a line of zero length, which the round caps of the style sheet turn
// into a disc.
func (p *Path) Dot(x, y float64) {
	tx, ty := tenths(x), tenths(y)
	if len(p.d) == 0 {
		p.MoveTo(x, y)
	} else {
		p.pair('m', tx-p.x, ty-p.y)
	}
	p.x, p.y = tx, ty
	p.d = append(p.d, "h0"...)
}

func (p *Path) pair(command byte, dx, dy int64) {
	p.d = appendTenths(append(p.d, command), dx)
	if dy >= 0 {
		p.d = append(p.d, ' ')
	}
	p.d = appendTenths(p.d, dy)
}
