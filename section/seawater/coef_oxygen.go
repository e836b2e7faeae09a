package seawater

// Oxygen solubility in umol/kg, A_i. Source: Garcia and Gordon 1992, Limnol. Oceanogr. 37, 1307, fit to the data of
// Benson and Krause 1984 (without the stray A3 Ts^2 term: erratum of 1993).
const (
	o2MassA0 = 5.80871
	o2MassA1 = 3.20291
	o2MassA2 = 4.17887
	o2MassA3 = 5.10006
	o2MassA4 = -0.0986643
	o2MassA5 = 3.80369
)

// Oxygen solubility in umol/kg, B_i. Source: Garcia and Gordon 1992, Limnol. Oceanogr. 37, 1307, fit to the data of
// Benson and Krause 1984 (without the stray A3 Ts^2 term: erratum of 1993).
const (
	o2MassB0 = -0.00701577
	o2MassB1 = -0.00770028
	o2MassB2 = -0.0113864
	o2MassB3 = -0.00951519
)

// Oxygen solubility in umol/kg, C_i. Source: Garcia and Gordon 1992, Limnol. Oceanogr. 37, 1307, fit to the data of
// Benson and Krause 1984 (without the stray A3 Ts^2 term: erratum of 1993).
const (
	o2MassC0 = -2.75915e-07
)
