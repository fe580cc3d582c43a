package api

import (
	"net/http"
	"slices"

	"github.com/gin-gonic/gin"
	"github.com/go-json-experiment/json/jsontext"
	"github.com/google/uuid"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/bom/schedule"
	"wainscot/openapi"
	"wainscot/pricing/job"
	"wainscot/pricing/money"
)

// buildRoutes are those of what happens to one van on the floor.
func buildRoutes() []route {
	var (
		everyone      = auth.Roles()
		floor         = []auth.Role{auth.Owner, auth.Workshop}
		floorAndSales = []auth.Role{auth.Owner, auth.Sales, auth.Workshop}
		sellers       = []auth.Role{auth.Owner, auth.Sales}
		keepers       = []auth.Role{auth.Owner, auth.Books}
	)
	return []route{
		{http.MethodGet, "/v1/jobs/:id/board", everyone, (*Server).getBoard},
		{http.MethodPost, "/v1/jobs/:id/stages", floor, (*Server).moveStage},
		{http.MethodPost, "/v1/jobs/:id/holds", floor, (*Server).holdStage},
		{http.MethodPost, "/v1/jobs/:id/holds/:number/lift", floor, (*Server).liftHold},
		{http.MethodPost, "/v1/jobs/:id/tests", floor, (*Server).recordTest},
		{http.MethodPost, "/v1/jobs/:id/hours", floor, (*Server).recordHours},
		{http.MethodPost, "/v1/jobs/:id/hours/:number/take-back", floor, (*Server).takeBackHours},
		{http.MethodPost, "/v1/jobs/:id/parts", floor, (*Server).recordPart},
		{http.MethodPost, "/v1/jobs/:id/parts/:number/take-back", floor, (*Server).takeBackPart},
		{http.MethodPost, "/v1/jobs/:id/serials", floor, (*Server).recordSerial},
		{http.MethodPost, "/v1/jobs/:id/serials/:number/take-back", floor, (*Server).takeBackSerial},
		{http.MethodPost, "/v1/jobs/:id/papers", floor, (*Server).recordPaper},
		{http.MethodPost, "/v1/jobs/:id/weighings", floor, (*Server).recordWeighing},
		{http.MethodPost, "/v1/jobs/:id/snags", floor, (*Server).recordSnag},
		{http.MethodPost, "/v1/jobs/:id/snags/:number", floor, (*Server).settleSnag},
		{http.MethodPost, "/v1/jobs/:id/shown", floorAndSales, (*Server).recordShown},
		{http.MethodPost, "/v1/jobs/:id/removed", sellers, (*Server).recordRemoved},
		{http.MethodPost, "/v1/jobs/:id/removed/:number/take-back", sellers, (*Server).takeBackRemoved},
		{http.MethodPost, "/v1/jobs/:id/balance", keepers, (*Server).clearBalance},
		{http.MethodPost, "/v1/jobs/:id/expected", floorAndSales, (*Server).expectVan},
		{http.MethodPost, "/v1/jobs/:id/arrival", floorAndSales, (*Server).takeVanIn},
		{http.MethodPost, "/v1/jobs/:id/trips", floorAndSales, (*Server).takeVanOut},
		{http.MethodPost, "/v1/jobs/:id/trips/back", floorAndSales, (*Server).bringVanBack},
		{http.MethodPost, "/v1/jobs/:id/handover", floorAndSales, (*Server).handOver},
		{http.MethodPost, "/v1/jobs/:id/departure", floorAndSales, (*Server).letVanGo},
		{http.MethodPost, "/v1/jobs/:id/cancellation", []auth.Role{auth.Owner}, (*Server).cancelJob},
		{http.MethodPost, "/v1/jobs/:id/attachments", floorAndSales, (*Server).attach},
		{http.MethodGet, "/v1/jobs/:id/attachments/:number", everyone, (*Server).getAttachment},
		{http.MethodGet, "/v1/jobs/:id/card.pdf", floor, (*Server).getJobCard},
		{http.MethodGet, "/v1/jobs/:id/picking.csv", floor, (*Server).getPickListCSV},
		{http.MethodGet, "/v1/jobs/:id/picking.xlsx", floor, (*Server).getPickListXLSX},
		{http.MethodGet, "/v1/on-site", everyone, (*Server).listOnSite},
		{http.MethodGet, "/v1/signatories", []auth.Role{auth.Owner, auth.Workshop, auth.Books}, (*Server).listSignatories},
		{http.MethodPost, "/v1/signatories", []auth.Role{auth.Owner}, (*Server).addSignatory},
		{http.MethodGet, "/v1/signatories/:id", []auth.Role{auth.Owner, auth.Workshop, auth.Books}, (*Server).getSignatory},
		{http.MethodPut, "/v1/signatories/:id", []auth.Role{auth.Owner}, (*Server).changeSignatory},
	}
}

// build is a job with all that is needed to do something to it.
type build struct {
	store.WholeJob
	plan      job.Plan
	sheet     *bom.Sheet
	spec      *bom.Specification
	catalogue *catalogue.Catalogue
	release   *bom.Release
	plate     string
	today     string
	settings  store.Settings
	currency  money.Currency
	crew      []schedule.Member
	signs     []store.Signatory
	// knowing: whoever does it knows that less than nothing is left in stock, or
	// less than is kept.
	knowing bool
}

// buildOf reads a job and works out its plan.
func (s *Server) buildOf(c *gin.Context, id uuid.UUID) (*build, error) {
	var b build
	var text *agreedText
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		if b.WholeJob, err = tx.WholeJob(id); err != nil {
			return notFoundIs(err, "job")
		}
		if text, err = readAgreed(tx, b.JobEntry, b.Content); err != nil {
			return err
		}
		return b.surroundings(tx)
	})
	if err != nil {
		return nil, err
	}
	return &b, s.planBuild(c, &b, text)
}

// surroundings are what a job depends on beside itself.
func (b *build) surroundings(tx store.ReadTx) error {
	workshop, err := tx.Workshop()
	if err != nil {
		return err
	}
	b.currency = money.Currency(workshop.Currency)
	if b.today, err = today(tx.Now(), workshop.TimeZone); err != nil {
		return err
	}
	if b.settings, err = tx.Settings(); err != nil {
		return err
	}
	plates, err := tx.JobPlates([]store.JobEntry{b.JobEntry})
	if err != nil {
		return err
	}
	b.plate = plates[b.ID]
	crew, err := tx.Crew()
	if err != nil {
		return err
	}
	for _, m := range crew {
		m.Member.LeftOn = m.LeftOn
		b.crew = append(b.crew, m.Member)
	}
	b.signs, err = tx.Signatories()
	return err
}

// planBuild works out the plan of what was agreed last; text is nil for a job
// without a quote.
func (s *Server) planBuild(c *gin.Context, b *build, text *agreedText) error {
	sheet, spec := &bom.Sheet{BaseVan: b.BaseVan}, &bom.Specification{}
	number := int64(0)
	if text != nil {
		now, err := text.now()
		if err != nil {
			return err
		}
		sheet, spec, number = &now.Van.Sheet, &now.Van.Specification, now.Release.Number
	}
	own, without := b.Content.OwnRelease()
	if without {
		number = own
	}
	release, err := s.releaseOrLatest(c, number)
	if err != nil {
		return err
	}
	if without {
		sheet = b.Content.OwnSheet(release.Catalogue())
	}
	sheet = b.Content.WithFindings(sheet, release.Catalogue())
	b.release, b.catalogue, b.sheet, b.spec = release, release.Catalogue(), sheet, spec
	b.plan = job.PlanOf(spec, sheet, b.catalogue)
	return nil
}

// releaseOrLatest gives a release by its number; the latest for 0, as of a job
// without a quote.
func (s *Server) releaseOrLatest(c *gin.Context, number int64) (*bom.Release, error) {
	if number > 0 {
		return s.releaseByNumber(c, number)
	}
	var latest store.Release
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		latest, err = tx.LatestRelease()
		return err
	})
	if err != nil {
		return nil, err
	}
	return s.release(c, latest.ReleaseEntry)
}

// known says whether the job's catalogue has a part.
func (b *build) known(part string) bool {
	return slices.ContainsFunc(b.catalogue.Parts, func(p catalogue.Part) bool { return p.Code == part })
}

// signatory is a signatory as the job takes one; nil for no id. One that the
// workshop has not is a problem.
func (b *build) signatory(id openapi.Id) (*job.Signatory, error) {
	if id == "" {
		return nil, nil //nolint:nilnil // none was named
	}
	for _, s := range b.signs {
		if s.ID == askedID(id) {
			return &job.Signatory{ID: s.ID.String(), Signs: s.Signs, ExpiresOn: s.ExpiresOn}, nil
		}
	}
	return nil, unknownReference("/signatory", "signatory")
}

// doing is what is done to a job.
type doing func(b *build, a job.Act) (job.Job, document.Faults, error)

// plainly is doing that reads nothing that could be missing.
func plainly(do func(b *build, a job.Act) (job.Job, document.Faults)) doing {
	return func(b *build, a job.Act) (job.Job, document.Faults, error) {
		now, faults := do(b, a)
		return now, faults, nil
	}
}

// changeBuild does something to the job of the address, on a day ("": today),
// and answers with its board.
func (s *Server) changeBuild(c *gin.Context, on string, do doing) error {
	b, now, err := s.doBuild(c, on, do)
	if err != nil {
		return err
	}
	was := b.WholeJob
	document, err := store.PackJob(now)
	if err != nil {
		return err
	}
	b.become(now)
	body, err := encode(contractBoard(b, principal(c).Role))
	if err != nil {
		return err
	}
	due, err := b.checksBegin(was.State)
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		entry, err := tx.ChangeWholeJob(was, now, document)
		if err == nil {
			err = tx.KeepChecksDue(entry.ID, due)
		}
		if err == nil && entry.State != was.State {
			err = slotFollows(tx, entry, b.today)
		}
		if err == nil {
			err = b.moveParts(tx, was.Content, now)
		}
		return reply{status: http.StatusOK, version: entry.Version, body: jsontext.Value(body)}, err
	})
}

// become puts what the job is after the change in its place.
func (b *build) become(now *job.Job) {
	b.Content, b.State = now, now.State
	b.Version++
}

// doBuild reads the job of the address at the version that was seen, and does
// something to it.
func (s *Server) doBuild(c *gin.Context, on string, do doing) (*build, *job.Job, error) {
	id, version, err := pathVersion(c, "job")
	if err != nil {
		return nil, nil, err
	}
	b, err := s.buildOf(c, id)
	if err != nil {
		return nil, nil, err
	}
	if b.Version != version {
		return nil, nil, store.ErrStale
	}
	act := job.Act{On: on, Today: b.today, By: principal(c).Person.String()}
	if act.On == "" {
		act.On = b.today
	}
	now, faults, err := do(b, act)
	if err != nil {
		return nil, nil, err
	}
	if len(faults) > 0 {
		return nil, nil, buildRefused(faults)
	}
	return b, &now, nil
}

// buildRefused: what the state of the job does not allow is a conflict, all
// else is of what was sent.
func buildRefused(faults document.Faults) *problem {
	p := refusedAt("That cannot be done or recorded so.", faults)
	if !slices.ContainsFunc(faults, func(f document.Fault) bool { return !job.OfState(f.Code) }) {
		p.code, p.detail, p.remedy = openapi.ProblemCodeStateConflict, "The job is not at a point at which that can be done.", "See in errors everything that stands in the way."
	}
	return p
}

// getBoard gives a job as it stands on the floor.
func (s *Server) getBoard(c *gin.Context) error {
	id, err := pathID(c, "job")
	if err != nil {
		return err
	}
	b, err := s.buildOf(c, id)
	if err != nil {
		return err
	}
	return answerOfTheDay(c, http.StatusOK, b.Version, contractBoard(b, principal(c).Role))
}

// listOnSite gives the vans that are here.
func (s *Server) listOnSite(c *gin.Context) error {
	var list []store.Job
	var plates map[uuid.UUID]string
	err := s.readTx(c, func(tx store.ReadTx) (err error) {
		if list, err = tx.JobsInState(job.InTheWorkshop, job.Cancelled); err != nil {
			return err
		}
		plates, err = tx.JobPlates(mapped(list, func(j store.Job) store.JobEntry { return j.JobEntry }))
		return err
	})
	if err != nil {
		return err
	}
	out := openapi.OnSite{Vans: []openapi.VanOnSite{}}
	for _, j := range list {
		content, err := j.Content()
		if err != nil {
			return err
		}
		if !content.OnSite() {
			continue
		}
		van := openapi.VanOnSite{
			Job: j.ID.String(), Number: whole(int(j.Number)), State: openapi.JobState(j.State), Registration: plates[j.ID], BaseVan: j.BaseVan,
			Since: content.Arrived.On, KeyHook: content.Arrived.KeyHook, UnderWay: []string{},
		}
		for _, st := range content.Stages {
			if st.State == job.UnderWay {
				van.UnderWay = append(van.UnderWay, st.Code)
			}
		}
		out.Vans = append(out.Vans, van)
	}
	return answer(c, http.StatusOK, out)
}
