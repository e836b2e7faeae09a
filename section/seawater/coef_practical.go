package seawater

// Practical Salinity Scale 1978: S as powers of Rt^(1/2), a_i. Source: Unesco technical papers in marine science 37 and
// 44.
const (
	pssA0 = 0.008
	pssA1 = -0.1692
	pssA2 = 25.3851
	pssA3 = 14.0941
	pssA4 = -7.0261
	pssA5 = 2.7081
)

// Practical Salinity Scale 1978: temperature part, b_i. Source: as above.
const (
	pssB0 = 0.0005
	pssB1 = -0.0056
	pssB2 = -0.0066
	pssB3 = -0.0375
	pssB4 = 0.0636
	pssB5 = -0.0144
)

// Practical Salinity Scale 1978: rt as powers of t68, c_i. Source: as above.
const (
	pssC0 = 0.6766097
	pssC1 = 0.0200564
	pssC2 = 0.0001104259
	pssC3 = -6.9698e-07
	pssC4 = 1.0031e-09
)

// Practical Salinity Scale 1978: Rp, denominator, d_1 to d_4. Source: as above.
const (
	pssD1 = 0.03426
	pssD2 = 0.0004464
	pssD3 = 0.4215
	pssD4 = -0.003107
)

// Practical Salinity Scale 1978: Rp, numerator, e_1 to e_3. Source: as above.
const (
	pssE1 = 2.07e-05
	pssE2 = -6.37e-10
	pssE3 = 3.989e-15
)

// Practical Salinity Scale 1978: k of the temperature part. Source: as above.
const (
	pssK0 = 0.0162
)
