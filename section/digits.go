package section

import "slices"

// Digits is how one value of a column was written where that differs from the other values of the column.
type Digits struct {
	Level    int // number of the value in its column, from 0
	Decimals int // digits after the point
	// as read, where its decimals alone do not give it back (007.5, .5, more digits than a number keeps); else ""
	Text string
}

// digitsAt returns the entry of a level in exceptions, which are in order of their levels; nil without one.
func digitsAt(exceptions []Digits, level int) *Digits {
	i, ok := slices.BinarySearchFunc(exceptions, level, func(d Digits, level int) int { return d.Level - level })
	if !ok {
		return nil
	}
	return &exceptions[i]
}

// Exception returns how the value at a level is written when not as most are; nil when it is.
func (c *Column) Exception(level int) *Digits { return digitsAt(c.Exceptions, level) }

// DecimalsAt returns the digits after the point that the value at a level has when written; -1 when it was not text.
func (c *Column) DecimalsAt(level int) int {
	if d := digitsAt(c.Exceptions, level); d != nil {
		return d.Decimals
	}
	return c.Decimals
}

// Digits returns how the value of a row was written; false when it was not text.
func (c *BottleColumn) Digits(row int) (Digits, bool) {
	if d := digitsAt(c.Exceptions, row); d != nil {
		return *d, true
	}
	return Digits{Level: row, Decimals: c.Decimals}, c.Decimals >= 0
}

// MostDecimals returns the most digits after the point that a value of the column has; -1 when it was not text.
func (c *Column) MostDecimals() int {
	most := c.Decimals
	for _, d := range c.Exceptions {
		most = max(most, d.Decimals)
	}
	return most
}

// A Commonest counts numbers of decimals. The zero value has counted nothing.
type Commonest map[int]int

// Add counts n values of so many decimals.
func (c Commonest) Add(decimals, n int) {
	if decimals >= 0 && n > 0 {
		c[decimals] += n
	}
}

// AddColumn counts the values of a column that are there.
func (c Commonest) AddColumn(col *Column) {
	n := 0
	for _, v := range col.Values {
		if v == v {
			n++
		}
	}
	c.Add(col.Decimals, n-len(col.Exceptions))
	for _, d := range col.Exceptions {
		c.Add(d.Decimals, 1)
	}
}

// Decimals returns the number of decimals that was counted most often, the larger of two as common; -1 for none.
func (c Commonest) Decimals() int {
	best := -1
	for d, n := range c {
		if best < 0 || n > c[best] || n == c[best] && d > best {
			best = d
		}
	}
	return best
}
