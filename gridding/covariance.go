package gridding

import "math"

// Covariance is the shape of the covariance of the signal with scaled distance r, r^2 = (dx/Lx)^2 + (dp/Lp)^2.
type Covariance string

// Shapes of covariance, as the cruise file names them.
const (
	Gaussian Covariance = "gaussian" // exp(-r^2): smooth fields
	Matern   Covariance = "matern"   // (1 + sqrt(3) r) exp(-sqrt(3) r): rough fields (Matern 1960, order 3/2)
)

// Covariances returns the names of the shapes of covariance.
func Covariances() []Covariance { return []Covariance{Gaussian, Matern} }

// at returns the covariance over the variance at a squared scaled distance.
func (c Covariance) at(r2 float64) float64 {
	if c == Matern {
		r := math.Sqrt(3 * r2)
		return (1 + r) * math.Exp(-r)
	}
	return math.Exp(-r2)
}

// part returns what is tabulated of the squared scaled distance in one direction: the covariance where that of both
// directions is the product of two, else the squared distance.
func (c Covariance) part(r2 float64) float64 {
	if c == Matern {
		return r2
	}
	return math.Exp(-r2)
}

// text is the covariance as a formula.
func (c Covariance) text() string {
	if c == Matern {
		return "(1+sqrt(3)r)exp(-sqrt(3)r), r^2=(dx/Lx)^2+(dp/Lp)^2"
	}
	return "exp(-(dx/Lx)^2-(dp/Lp)^2)"
}

// A model is the covariance that optimal interpolation maps with.
type model struct {
	shape  Covariance
	factor float64 // Lx in local station spacings
	down   float64 // Lp in the lengths of the rule
	noise  float64 // noise variance over signal variance
}
