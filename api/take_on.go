package api

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom/calendar"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing/job"
	"wainscot/pricing/takeon"
)

// takeOnRoutes are those of the day a workshop begins here.
func takeOnRoutes() []route {
	var (
		owners  = []auth.Role{auth.Owner}
		keepers = []auth.Role{auth.Owner, auth.Books}
	)
	return []route{
		{http.MethodGet, "/v1/take-on", keepers, (*Server).getTakeOn},
		{http.MethodPost, "/v1/take-on", owners, (*Server).takeOn},
		{http.MethodPost, "/v1/take-on/trial", keepers, (*Server).tryTakeOn},
		{http.MethodGet, "/v1/jobs/:id/taken-on", auth.Roles(), (*Server).getTakenOn},
	}
}

// getTakeOn tells what was taken on.
func (s *Server) getTakeOn(c *gin.Context) error {
	var found store.TakeOn
	var there bool
	err := s.readTx(c, func(tx store.ReadTx) (err error) { found, there, err = tx.TakeOnIfAny(); return err })
	if err != nil {
		return err
	}
	if !there {
		return notFound("take-on")
	}
	return answer(c, http.StatusOK, contractTakeOn(&found))
}

// tryTakeOn tells what files would come to, and changes nothing.
func (s *Server) tryTakeOn(c *gin.Context) error {
	asked, err := decode[openapi.TakeOnFiles](c)
	if err != nil {
		return err
	}
	t, faults, err := s.readTakeOn(c, asked)
	if err != nil {
		return err
	}
	o := t.comesTo()
	return answer(c, http.StatusOK, openapi.TakeOnReport{
		Agrees: len(faults) == 0, On: asked.On, Customers: whole(o.Customers), Vans: whole(o.Vans), Jobs: whole(len(t.read.Jobs)), Slots: whole(o.Slots),
		Deposits: whole(o.Deposits), Parts: whole(o.Parts), Proofs: mapped(o.Proofs, contractProofOfList), Accounts: mapped(o.Accounts, contractOpened),
		Faults: mapped(faults, func(f document.Fault) openapi.TakeOnFault {
			return openapi.TakeOnFault{File: f.File, Line: whole(f.Line), Column: f.At, Code: f.Code, Reason: f.Reason, Remedy: f.Remedy}
		}),
	})
}

// takeOn takes on what a workshop brings along: all of it or nothing, once. What
// was taken on is answered again to who sends the same again.
func (s *Server) takeOn(c *gin.Context) error {
	asked, err := decode[openapi.TakeOnFiles](c)
	if err != nil {
		return err
	}
	var there bool
	if err := s.readTx(c, func(tx store.ReadTx) (err error) { _, there, err = tx.TakeOnIfAny(); return err }); err != nil {
		return err
	}
	var t *takingOn
	if !there {
		var faults document.Faults
		if t, faults, err = s.readTakeOn(c, asked); err != nil {
			return err
		}
		if len(faults) > 0 {
			return takeOnRefused(faults, asked.Files)
		}
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		was, there, err := tx.TakeOnIfAny()
		switch {
		case err != nil:
			return reply{}, err
		case there && was.FilesSHA256 == filesHash(asked):
			return reply{status: http.StatusOK, body: contractTakeOn(&was)}, nil
		case there:
			return reply{}, takenOnAlready(was.On)
		case t == nil:
			return reply{}, store.ErrStale // what was there is gone, which cannot be
		}
		done, err := s.writeTakeOn(tx, t)
		if err != nil {
			return reply{}, moneyRefused(err)
		}
		return reply{status: http.StatusCreated, location: "/v1/take-on", body: contractTakeOn(&done)}, nil
	})
}

func takenOnAlready(on string) error {
	return &problem{code: openapi.ProblemCodeStateConflict, detail: "The workshop was taken on at the end of " + calendar.Said(on) + ", from other files.",
		remedy: "Add what was left out one by one: customers, vans, jobs, receipts."}
}

// filesHash tells one set of files from another.
func filesHash(asked openapi.TakeOnFiles) string {
	files := slices.Clone(asked.Files)
	slices.SortFunc(files, func(a, b openapi.TakeOnFile) int { return strings.Compare(string(a.Name), string(b.Name)) })
	text, err := json.Marshal(openapi.TakeOnFiles{On: asked.On, Files: files})
	if err != nil {
		panic(err) // texts can always be written
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

// takeOnRefused: what is wrong, by file, line and column. 409 where it is the
// books that do not allow it.
func takeOnRefused(faults document.Faults, files []openapi.TakeOnFile) error {
	p := &problem{code: openapi.ProblemCodeDocumentRefused, detail: "The files have faults, or do not agree; nothing is taken on.", remedy: "Do what errors say of each, and try again."}
	if !slices.ContainsFunc(faults, func(f document.Fault) bool { return !ofMoneysState(f.Code) }) {
		p.code, p.detail, p.remedy = openapi.ProblemCodeStateConflict, "The books do not allow that now.", "See in errors what stands in the way."
	}
	for _, f := range faults {
		field, where := "/files", ""
		if i := slices.IndexFunc(files, func(a openapi.TakeOnFile) bool { return string(a.Name)+".csv" == f.File }); i >= 0 {
			field += "/" + strconv.Itoa(i) + "/text"
		}
		if f.File != "" {
			where = f.File
			if f.Line > 0 {
				where += ", line " + strconv.Itoa(f.Line)
			}
			if f.At != "" {
				where += ", " + f.At
			}
			where += ": "
		} else if f.At == "on" {
			field = "/on"
		}
		p.errors = append(p.errors, openapi.FieldError{Field: field, Code: f.Code, Reason: where + f.Reason, Remedy: f.Remedy})
	}
	return p
}

// getTakenOn tells what of a job was taken on.
func (s *Server) getTakenOn(c *gin.Context) error {
	found, err := theOne(s, c, "job", store.ReadTx.WholeJob)
	if err != nil {
		return err
	}
	t := found.Content.TakenOn
	if t == nil {
		return notFound("job that was taken on")
	}
	return answerVersion(c, http.StatusOK, found.Version, openapi.TakenOnJob{
		Job: found.ID.String(), Number: whole(int(found.Number)), On: t.On, Key: found.Content.Said(t.Key), Says: found.Content.Said(t.Says),
		PromisedOn: t.PromisedOn, AgreedOn: found.AgreedOn, BaseVan: found.BaseVan, Van: contractID(found.Van),
		Hours: mapped(t.Hours, func(h job.ReturnHours) openapi.ReturnHours {
			return openapi.ReturnHours{Stage: h.Stage, Trade: h.Trade, Hours: plain(h.Hours)}
		}),
		Papers: mapped(t.Papers, func(p job.TakenOnPaper) openapi.TakenOnPaper {
			return openapi.TakenOnPaper{Outside: p.Outside, State: openapi.TakenOnPaperState(p.State), Stage: p.Stage, On: p.On}
		}),
	})
}

func contractTakeOn(o *store.TakeOn) openapi.TakeOn {
	return openapi.TakeOn{
		On: o.On, At: o.CreatedAt, By: contractID(o.By), FilesSha256: o.FilesSHA256, Customers: whole(o.Content.Customers), Vans: whole(o.Content.Vans),
		Slots: whole(o.Content.Slots), Deposits: whole(o.Content.Deposits), Parts: whole(o.Content.Parts),
		Jobs:   mapped(o.Content.Jobs, func(id uuid.UUID) string { return id.String() }),
		Proofs: mapped(o.Content.Proofs, contractProofOfList), Accounts: mapped(o.Content.Accounts, contractOpened),
		FirstEntry: o.Content.FirstEntry, LastEntry: o.Content.LastEntry,
	}
}

func contractProofOfList(p takeon.Proof) openapi.ProofOfList {
	return openapi.ProofOfList{What: p.What, List: p.List, Files: p.Files, Difference: p.Difference}
}

func contractOpened(a takeon.AccountBalance) openapi.OpenedAccount {
	return openapi.OpenedAccount{Account: openapi.LedgerAccount(a.Account), Balance: contractAmount(a.Balance)}
}
