package api

import (
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"
	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing/job"
)

// variationRoutes are those of what changes on the way: findings, variations,
// what stops each van, what jobs took in the end.
func variationRoutes() []route {
	var (
		everyone = auth.Roles()
		floor    = []auth.Role{auth.Owner, auth.Workshop}
		sellers  = []auth.Role{auth.Owner, auth.Sales}
	)
	return []route{
		{http.MethodGet, "/v1/jobs/:id/findings", everyone, (*Server).listFindings},
		{http.MethodPost, "/v1/jobs/:id/findings", floor, (*Server).addFinding},
		{http.MethodPost, "/v1/jobs/:id/findings/:number/approval", floor, (*Server).approveFinding},
		{http.MethodPost, "/v1/jobs/:id/findings/:number/left-so", floor, (*Server).leaveFindingSo},
		{http.MethodGet, "/v1/jobs/:id/agreement", everyone, (*Server).getAgreement},
		{http.MethodGet, "/v1/jobs/:id/variations", everyone, (*Server).listVariations},
		{http.MethodPost, "/v1/jobs/:id/variations", sellers, (*Server).createVariation},
		{http.MethodGet, "/v1/jobs/:id/variations/:number", everyone, (*Server).getVariation},
		{http.MethodPut, "/v1/jobs/:id/variations/:number", sellers, (*Server).changeVariation},
		{http.MethodPost, "/v1/jobs/:id/variations/:number/approvals", floor, (*Server).approveVariationAddition},
		{http.MethodPost, "/v1/jobs/:id/variations/:number/sending", sellers, (*Server).sendVariation},
		{http.MethodPost, "/v1/jobs/:id/variations/:number/acceptance", sellers, (*Server).acceptVariation},
		{http.MethodPost, "/v1/jobs/:id/variations/:number/decline", sellers, (*Server).declineVariation},
		{http.MethodPost, "/v1/jobs/:id/variations/:number/withdrawal", sellers, (*Server).withdrawVariation},
		{http.MethodGet, "/v1/outlook", everyone, (*Server).getOutlook},
		{http.MethodGet, "/v1/looking-back", everyone, (*Server).lookBack},
	}
}

// listFindings gives what the work on a van has shown.
func (s *Server) listFindings(c *gin.Context) error {
	whole, err := theOne(s, c, "job", store.ReadTx.WholeJob)
	if err != nil {
		return err
	}
	list := mapped(whole.Content.Findings, func(f job.Finding) openapi.Finding { return contractJobFinding(whole.Content, &f) })
	return answerVersion(c, http.StatusOK, whole.Version, openapi.Findings{Findings: list})
}

// addFinding keeps a finding; the stage it stops waits for it.
func (s *Server) addFinding(c *gin.Context) error {
	id, version, err := pathVersion(c, "job")
	if err != nil {
		return err
	}
	sent, err := decode[openapi.FindingContent](c)
	if err != nil {
		return err
	}
	f, err := domainFinding(sent)
	if err != nil {
		return err
	}
	a, err := s.agreedJob(c, id, version)
	if err != nil {
		return err
	}
	now, faults := a.whole.Content.Find(a.act(c, sent.On), f, a.release.Catalogue())
	if len(faults) > 0 {
		return jobRefusal("The finding cannot be kept so.", faults)
	}
	return s.keepFinding(c, a, &now, len(now.Findings), http.StatusCreated)
}

// approveFinding keeps the foreman's yes to what is to be done about a finding.
func (s *Server) approveFinding(c *gin.Context) error {
	return s.changeFinding(c, func(a *agreedJob, number int) (job.Job, document.Faults) {
		return a.whole.Content.Approve(a.act(c, ""), number)
	})
}

// leaveFindingSo settles a finding by a word.
func (s *Server) leaveFindingSo(c *gin.Context) error {
	sent, err := decode[openapi.FindingLeft](c)
	if err != nil {
		return err
	}
	return s.changeFinding(c, func(a *agreedJob, number int) (job.Job, document.Faults) {
		return a.whole.Content.LeaveSo(a.act(c, ""), number, sent.Because)
	})
}

func (s *Server) changeFinding(c *gin.Context, change func(*agreedJob, int) (job.Job, document.Faults)) error {
	id, version, err := pathVersion(c, "job")
	if err != nil {
		return err
	}
	number, err := pathOrdinal(c, "finding")
	if err != nil {
		return err
	}
	a, err := s.agreedJob(c, id, version)
	if err != nil {
		return err
	}
	if number > int64(len(a.whole.Content.Findings)) {
		return notFound("finding")
	}
	now, faults := change(a, int(number))
	if len(faults) > 0 {
		return jobRefusal("That cannot be done with the finding.", faults)
	}
	return s.keepFinding(c, a, &now, int(number), http.StatusOK)
}

func (s *Server) keepFinding(c *gin.Context, a *agreedJob, now *job.Job, number, status int) error {
	packed, err := store.PackJob(now)
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		entry, err := tx.ChangeWholeJob(a.whole, now, packed)
		if err != nil {
			return reply{}, err
		}
		r := reply{status: status, version: entry.Version, body: contractJobFinding(now, &now.Findings[number-1]), about: "/v1/jobs/" + entry.ID.String()}
		if status == http.StatusCreated {
			r.location = "/v1/jobs/" + entry.ID.String() + "/findings"
		}
		return r, nil
	})
}

// pathOrdinal is the number in the address of something a job has; what names
// it.
func pathOrdinal(c *gin.Context, what string) (int64, error) {
	n, err := strconv.ParseInt(c.Param("number"), 10, 32)
	if err != nil || n < 1 {
		return 0, notFound(what)
	}
	return n, nil
}

// act is who does something to a job, and when; on "" is today.
func (a *agreedJob) act(c *gin.Context, on string) job.Act {
	if on == "" {
		on = a.ground.today
	}
	return job.Act{On: on, Today: a.ground.today, By: principal(c).Person.String()}
}

// jobRefusal makes a problem of what stands against changing a job: a conflict
// where its state does not allow it now, else a fault of what was sent.
func jobRefusal(detail string, faults document.Faults) error {
	code := openapi.ProblemCodeTermsRefused
	for _, f := range faults {
		if job.OfState(f.Code) || f.Code == job.Stale || f.Code == "lapsed" {
			code = openapi.ProblemCodeStateConflict
		}
	}
	return refused(code, detail, faults, "")
}

func domainFinding(sent openapi.FindingContent) (job.Finding, error) {
	f := job.Finding{FoundAt: sent.FoundAt, Stage: sent.Stage, Words: sent.Words}
	var errs []error
	number := func(field, text string) decimal.Decimal {
		d, err := decimal.NewFromString(text)
		if err != nil {
			errs = append(errs, brokenField(field, "wrong_form", "It is not a decimal number.", "Write it in digits, like 2.5."))
		}
		return d
	}
	for i, h := range sent.Hours {
		f.Hours = append(f.Hours, bom.AdditionHours{Trade: h.Trade, Hours: number("/hours/"+strconv.Itoa(i)+"/hours", h.Hours)})
	}
	for i, p := range sent.Parts {
		f.Parts = append(f.Parts, job.FindingPart{Part: p.Part, Quantity: number("/parts/"+strconv.Itoa(i)+"/quantity", p.Quantity)})
	}
	for _, t := range sent.Touches {
		f.Touches = append(f.Touches, catalogue.Caution(t))
	}
	for _, p := range sent.Photographs {
		f.Photographs = append(f.Photographs, int(p))
	}
	return f, together(errs...)
}

func contractJobFinding(j *job.Job, f *job.Finding) openapi.Finding {
	return openapi.Finding{
		Number: whole(f.Number), On: f.On, By: f.By, FoundAt: f.FoundAt, Stage: f.Stage, Words: f.Words,
		Hours: mapped(f.Hours, contractHours), Parts: mapped(f.Parts, contractFindingPart),
		Touches:     mapped(f.Touches, func(t catalogue.Caution) openapi.Caution { return openapi.Caution(t) }),
		Photographs: mapped(f.Photographs, whole), Approved: f.Approved, State: openapi.FindingState(f.State),
		Variation: whole(int(f.Variation)), SettledOn: f.SettledOn, Because: j.Said(f.Because),
	}
}

func contractHours(h bom.AdditionHours) openapi.AdditionHours {
	return openapi.AdditionHours{Trade: h.Trade, Hours: plain(h.Hours)}
}

func contractFindingPart(p job.FindingPart) openapi.FindingPart {
	return openapi.FindingPart{Part: p.Part, Quantity: plain(p.Quantity)}
}
