package engineering

import "testing"

// 40 l of water count 40 kg, 10 l of flush 10 (owner's manual of 2012); 1 l is 1
// kg (the check values).
func TestWater(t *testing.T) {
	got, err := WaterKg(dec("40"))
	equal(t, "40 l", got, err, "40")
	got, err = WaterNeededL(dec("4"), dec("2"), dec("5")) // common practice, no source
	equal(t, "four for two days", got, err, "40")
	got, err = WasteLeastL(dec("60"), dec("60")) // common practice, no source
	equal(t, "waste", got, err, "36")
	_, err = WaterKg(dec("1001"))
	refused(t, "a pool", err, "The water")
	_, err = WaterNeededL(dec("4"), dec("61"), dec("5"))
	refused(t, "a season", err, "The number of days")
	_, err = WaterNeededL(dec("4"), dec("2"), dec("201"))
	refused(t, "a bath", err, "The water for a person and a day")
	_, err = WaterNeededL(dec("21"), dec("2"), dec("2"))
	refused(t, "a crowd", err, "The number of people")
	_, err = WasteLeastL(dec("60"), dec("151"))
	refused(t, "more than came in", err, "The share")
}

// A metre of water is 98.0665 mbar (conversion tables); a cistern 10 m above an
// outlet gives about 981 mbar, 3 m about 0.29 bar (a plumbing course).
func TestHead(t *testing.T) {
	got, err := HeadMbar(dec("1"))
	equal(t, "1 m", got, err, "98.0665")
	got, err = HeadMbar(dec("10"))
	near(t, "10 m", got, err, "981", "0.5")
	got, err = HeadMbar(dec("3"))
	near(t, "3 m", got, err, "290", "5")
	_, err = HeadMbar(dec("21"))
	refused(t, "a tower", err, "The height")
}

// 1 l by 1 K is 1.16111 Wh at 4,180 J/(kg K), 100 l from 10 to 80 °C 8.12 kWh (a
// battery trader's worked example); 4.186 kJ/(kg K) of physics books is 1.1628.
func TestWaterHeat(t *testing.T) {
	got, err := WaterHeatWh(dec("1"), dec("1"))
	near(t, "1 l by 1 K", got, err, "1.16111", "0.002")
	got, err = WaterHeatWh(dec("100"), dec("70"))
	near(t, "100 l by 70 K", got, err, "8120", "25")
	got, err = WaterHeatWh(dec("10"), dec("45"))
	near(t, "10 l by 45 K", got, err, "523.25", "0.2")
	_, err = WaterHeatWh(dec("1"), dec("101"))
	refused(t, "steam", err, "The rise")
}
