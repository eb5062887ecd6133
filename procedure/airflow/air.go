package airflow

import "math"

// Constants of air and units.
const (
	// CFM is one cubic foot per minute in m3/s; exact, NIST SP 811 B.8.
	CFM = 4.719474432e-4
	// Gravity is the standard acceleration of free fall, m/s2; NIST SP 811 B.8.
	Gravity = 9.80665
	// GasConstant of dry air, J/(kg K); ASHRAE Handbook, Fundamentals,
	// psychrometrics chapter (from memory).
	GasConstant = 287.042
	// StandardDensity is that of dry air at 20 C and 101325 Pa, kg/m3.
	StandardDensity = 1.2041
)

// pow is x^n for x > 0: math.Pow spends most of its time on cases that cannot
// happen here.
func pow(x, n float64) float64 {
	switch n {
	case 0.5:
		return math.Sqrt(x)
	case 1:
		return x
	}
	return math.Exp(n * math.Log(x))
}

// Density of dry air, kg/m3, at an absolute pressure (Pa) and temperature (K).
func Density(pressure, temperature float64) float64 {
	return pressure / (GasConstant * temperature)
}

// StandardPressure is the absolute pressure, in Pa, at a geopotential altitude
// in m, up to 11 km; US Standard Atmosphere 1976.
func StandardPressure(altitude float64) float64 {
	const seaLevel, temperature, lapse, gas = 101325, 288.15, 0.0065, 8.31432 / 0.0289644
	return seaLevel * math.Pow(1-lapse*altitude/temperature, Gravity/(gas*lapse))
}

// VelocityPressure is 0.5 rho V^2 in Pa, for a density in kg/m3 and a wind in m/s.
func VelocityPressure(density, wind float64) float64 { return 0.5 * density * wind * wind }

// WallCp is the mean wind pressure coefficient of a wall of a square building,
// by the angle in degrees between the wind and the wall's outward normal: 0 is
// wind straight on. Swami and Chandra, FSEC-CR-163-86, 1987, with side ratio 1
// and 0.6 at normal incidence.
func WallCp(degrees float64) float64 {
	const straightOn = 0.6
	a := math.Abs(math.Remainder(degrees, 360)) * math.Pi / 180
	s, half, c := math.Sin(a), math.Sin(a/2), math.Cos(a/2)
	return straightOn * math.Log(1.248-0.703*half-1.175*s*s+0.769*c+0.717*c*c)
}

// DoorwayExchange is the volume, in m3/s, that crosses an open doorway each way
// because its two sides differ by dT kelvin around the mean temperature. Width
// and height in m. Brown and Solvason, 1962, eq. 6.
func DoorwayExchange(width, tall, cd, dT, mean float64) float64 {
	return cd * width * tall / 3 * math.Sqrt(Gravity*tall*math.Abs(dT)/mean)
}
