package api

import (
	"slices"
	"time"

	"github.com/go-json-experiment/json"
	"github.com/go-json-experiment/json/jsontext"

	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/openapi"
)

// maxFindings is how many findings an answer has; those cut are counted.
const maxFindings = 2_000

// contractProof is a proof as the contract has it, with what is acknowledged:
// for an earlier release, unless at the moment of the proof or, in a draft's,
// at none yet.
func contractProof(p *bom.Proof, acknowledged []store.Acknowledgement, at time.Time) openapi.Proof {
	known := func(key string) bool {
		return slices.ContainsFunc(acknowledged, func(a store.Acknowledgement) bool { return a.Warning == key })
	}
	out := openapi.Proof{
		Hash: p.Catalogue, Engine: openapi.Engine(whole(p.Engine)), Publishable: p.Publishable(),
		Editions: mapped(p.Editions, func(e bom.ProofEdition) openapi.ProofEdition {
			return openapi.ProofEdition{Edition: e.Edition, Day: e.Day}
		}),
		BaseVans: mapped(p.Vans, contractVanProof),
		SafetyRules: mapped(p.Safety, func(s bom.SafetyProof) openapi.SafetyProof {
			return openapi.SafetyProof{Code: s.Code, Says: s.Says, HoldsOn: orNone(s.Holds), BrokenOn: orNone(s.Broken)}
		}),
		Findings: mapped(p.Findings[:min(len(p.Findings), maxFindings)], func(f bom.Finding) openapi.ProofFinding {
			return contractFinding(&f, known(f.Key))
		}),
		FindingsCut: whole(max(len(p.Findings)-maxFindings, 0)),
		Acknowledged: mapped(acknowledged, func(a store.Acknowledgement) openapi.Acknowledgement {
			out := openapi.Acknowledgement{Warning: a.Warning, Says: a.Says, Reason: a.Reason}
			if !a.At.IsZero() {
				out.At, out.By, out.CarriedOver = a.At, a.By.String(), !a.At.Equal(at)
			}
			return out
		}),
	}
	return out
}

func contractVanProof(v bom.VanProof) openapi.VanProof {
	return openapi.VanProof{
		BaseVan: v.BaseVan, Name: v.Name, Features: whole(v.Features), Specifications: v.Specifications, AtLeast: v.AtLeast,
		Specimens: whole(v.Specimens), Pairs: whole(v.Pairs), PairsNever: whole(v.Never), Faults: whole(v.Faults), Warnings: whole(v.Warnings),
		Checks: mapped(v.Checks, func(k bom.CheckProof) openapi.CheckProof {
			return openapi.CheckProof{Code: k.Code, Met: whole(k.Met), NotMet: whole(k.NotMet)}
		}),
	}
}

func contractFinding(f *bom.Finding, acknowledged bool) openapi.ProofFinding {
	return openapi.ProofFinding{
		Key: f.Key, Grade: openapi.ProofFindingGrade(f.Grade), Code: string(f.Code), At: f.At, BaseVans: slices.Clip(f.BaseVans),
		Says: f.Says, Remedy: f.Remedy, Times: whole(f.Times), Acknowledged: acknowledged, Example: contractExample(f.Example),
	}
}

func contractExample(e *bom.Example) openapi.ProofExample {
	if e == nil {
		return openapi.ProofExample{}
	}
	return openapi.ProofExample{Van: contractVan(e.Van), Choices: contractChoices(e.Choices), Settle: contractSettle(e.Settle)}
}

// findingErrors tells findings as the faults of a document that they are: text
// is the document, which stands in the body under a pointer.
func findingErrors(text []byte, under string, findings []bom.Finding) []openapi.FieldError {
	tree := documentTree(text)
	list := make([]openapi.FieldError, len(findings))
	for i := range findings {
		f := &findings[i]
		list[i] = openapi.FieldError{
			Field: under + documentPointer(tree, f.At), Code: string(f.Code), Reason: f.Says, Remedy: f.Remedy, Example: contractExample(f.Example),
		}
		if f.Grade == bom.FindingWarning {
			list[i].Warning = f.Key
		}
	}
	return list
}

// documentTree is a document as a tree of plain values; nil for one that could
// not be read.
func documentTree(text []byte) any {
	var tree any
	if err := json.Unmarshal(text, &tree, jsontext.AllowDuplicateNames(true), jsontext.AllowInvalidUTF8(true)); err != nil {
		return nil
	}
	return tree
}
