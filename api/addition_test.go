package api

import (
	"testing"

	"wainscot/api/auth"
	"wainscot/openapi"
)

// What is asked of an addition is shown again as it was asked, its evidence
// too, to those who see prices.
func TestAdditionsComeBackAsAsked(t *testing.T) {
	a := openapi.Addition{Code: "ramp", Kind: "one-off", Words: "Ramp", Quantity: 1, Stage: "floor", MassKg: "30",
		Price: openapi.Money{Amount: "1000.00", Currency: "GBP"}, Treatment: "zero", Evidence: "Declaration kept with the job"}
	work, price, err := domainAddition(a, "GBP")
	if err != nil {
		t.Fatal(err)
	}
	if back := contractAddition(work, price, "GBP", auth.Sales); back.Evidence != a.Evidence || back.Treatment != a.Treatment || back.Price != a.Price {
		t.Errorf("%+v", back)
	}
	if back := contractAddition(work, price, "GBP", auth.Workshop); back.Evidence != "" || back.Price != (openapi.Money{}) {
		t.Errorf("the workshop floor is shown %+v", back)
	}
}
