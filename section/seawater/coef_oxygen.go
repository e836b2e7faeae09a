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

// Oxygen solubility in cm3(STP)/dm3, that is ml/l, A_i. Source: Garcia and Gordon 1992, Limnol. Oceanogr. 37, 1307, fit
// to the data of Benson and Krause 1984 (without the stray A3 Ts^2 term: erratum of 1993).
const (
	o2VolA0 = 2.00907
	o2VolA1 = 3.22014
	o2VolA2 = 4.0501
	o2VolA3 = 4.94457
	o2VolA4 = -0.256847
	o2VolA5 = 3.88767
)

// Oxygen solubility in cm3(STP)/dm3, that is ml/l, B_i. Source: Garcia and Gordon 1992, Limnol. Oceanogr. 37, 1307, fit
// to the data of Benson and Krause 1984 (without the stray A3 Ts^2 term: erratum of 1993).
const (
	o2VolB0 = -0.00624523
	o2VolB1 = -0.00737614
	o2VolB2 = -0.010341
	o2VolB3 = -0.00817083
)

// Oxygen solubility in cm3(STP)/dm3, that is ml/l, C_i. Source: Garcia and Gordon 1992, Limnol. Oceanogr. 37, 1307, fit
// to the data of Benson and Krause 1984 (without the stray A3 Ts^2 term: erratum of 1993).
const (
	o2VolC0 = -4.88682e-07
)
