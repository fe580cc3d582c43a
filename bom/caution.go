package bom

import "wainscot/bom/catalogue"

// standingCautions are the sentences that go with every sheet that touches
// what can hurt people. A sheet is an estimate; it does not make anything
// safe, and says so wherever it is shown.
var standingCautions = [...]struct {
	caution catalogue.Caution
	says    string
}{
	{catalogue.CautionGas, "Gas: this is an estimate, no design. Local codes apply, and a licensed gas engineer decides, tests and signs before the van is used."},
	{catalogue.CautionMains, "Mains electricity: this is an estimate, no design. Local codes apply, and a licensed electrician decides, tests and signs before the van is used."},
	{catalogue.CautionStructure, "Cutting and strengthening the body: this is an estimate, no design. The van maker's instructions and local codes apply, and a qualified engineer decides."},
	{catalogue.CautionSeats, "Seats and belts: this is an estimate, no approval. Local codes apply, and the approval authority and a qualified engineer decide about seats, belts and their anchorages."},
	{catalogue.CautionWeight, "Masses: these are estimates until the van is weighed. The plated masses are the law's limit, and the weighbridge decides."},
}

// cautions is a set of them, one bit each in the order above.
type cautions uint8

func cautionsOf(list []catalogue.Caution) cautions {
	var set cautions
	for _, c := range list {
		for i := range standingCautions {
			if standingCautions[i].caution == c {
				set |= 1 << i
			}
		}
	}
	return set
}

// Cautions are the standing cautions for a list of them, each once, in their
// usual order: for a sheet that no features were chosen for.
func Cautions(list []catalogue.Caution) []CautionNote {
	var notes []CautionNote
	for i, set := 0, cautionsOf(list); i < len(standingCautions); i++ {
		if set&(1<<i) != 0 {
			notes = append(notes, CautionNote{Caution: standingCautions[i].caution, Says: standingCautions[i].says})
		}
	}
	return notes
}

// notes gives the standing cautions in set, each with the features and
// additions that bring it; by has the cautions of each feature.
func (r *Release) notes(set cautions, by []cautions, additions []Addition) []CautionNote {
	var notes []CautionNote
	for i := range standingCautions {
		if set&(1<<i) == 0 {
			continue
		}
		n := CautionNote{Caution: standingCautions[i].caution, Says: standingCautions[i].says}
		for f, has := range by {
			if has&(1<<i) != 0 {
				n.Features = append(n.Features, r.catalogue.Features[f].Code)
			}
		}
		for k := range additions {
			if cautionsOf(additions[k].Touches)&(1<<i) != 0 {
				n.Additions = append(n.Additions, additions[k].Code)
			}
		}
		notes = append(notes, n)
	}
	return notes
}
