package api

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"fmt"
	"net/http"
	"strconv"

	"github.com/gin-gonic/gin"
	"github.com/go-json-experiment/json/jsontext"
	"github.com/shopspring/decimal"

	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom/catalogue"
	"wainscot/bom/document"
	"wainscot/openapi"
	"wainscot/pricing/job"
	"wainscot/pricing/money"
)

// What is done to a job: each handler reads what was sent and gives it to
// pricing/job, which says what stands against it.

// moveStage begins, finishes, leaves out a stage, or takes it up again.
func (s *Server) moveStage(c *gin.Context) error {
	sent, err := decode[openapi.StageDone](c)
	if err != nil {
		return err
	}
	return s.changeBuild(c, sent.On, plainly(func(b *build, a job.Act) (job.Job, document.Faults) {
		switch sent.Do {
		case openapi.StageDoneDoBegin:
			return b.Content.Begin(&b.plan, a, sent.Stage)
		case openapi.StageDoneDoFinish:
			return b.Content.Finish(&b.plan, a, sent.Stage)
		case openapi.StageDoneDoLeaveOut:
			return b.Content.LeaveOut(&b.plan, a, sent.Stage, sent.Because)
		}
		return b.Content.TakeUpAgain(&b.plan, a, sent.Stage, sent.Because)
	}))
}

// holdStage puts a stage on hold.
func (s *Server) holdStage(c *gin.Context) error {
	sent, err := decode[openapi.NewHold](c)
	if err != nil {
		return err
	}
	return s.changeBuild(c, sent.On, plainly(func(b *build, a job.Act) (job.Job, document.Faults) {
		return b.Content.PutOnHold(&b.plan, a, job.NewHold{Code: sent.Code, Stage: sent.Stage, Says: sent.Says, Caution: catalogue.Caution(sent.Caution)})
	}))
}

// numbered is the number of an entry in the address; one that is none names no
// entry.
func numbered(c *gin.Context) int {
	n, err := strconv.Atoi(c.Param("number"))
	if err != nil {
		return 0
	}
	return n
}

// liftHold lifts a hold by a word.
func (s *Server) liftHold(c *gin.Context) error {
	return s.byReason(c, func(b *build, a job.Act, because string) (job.Job, document.Faults) {
		return b.Content.Lift(a, numbered(c), because)
	})
}

// byReason is what takes a reason and no more.
func (s *Server) byReason(c *gin.Context, do func(b *build, a job.Act, because string) (job.Job, document.Faults)) error {
	sent, err := decode[openapi.ReasonGiven](c)
	if err != nil {
		return err
	}
	return s.changeBuild(c, sent.On, plainly(func(b *build, a job.Act) (job.Job, document.Faults) { return do(b, a, sent.Because) }))
}

// recordTest keeps the outcome of a test.
func (s *Server) recordTest(c *gin.Context) error {
	sent, err := decode[openapi.NewTest](c)
	if err != nil {
		return err
	}
	return s.changeBuild(c, sent.On, func(b *build, a job.Act) (job.Job, document.Faults, error) {
		by, err := b.signatory(sent.Signatory)
		if err != nil {
			return job.Job{}, nil, err
		}
		now, faults := b.Content.Record(&b.plan, a, job.NewTest{
			Of: sent.Of, Hold: int(sent.Hold), Signatory: by, Crew: sent.Crew, Passed: sent.Passed, Says: sent.Says, Attachment: int(sent.Attachment),
		})
		return now, faults, nil
	})
}

// recordHours keeps hours worked.
func (s *Server) recordHours(c *gin.Context) error {
	sent, err := decode[openapi.NewHours](c)
	if err != nil {
		return err
	}
	list := make([]job.NewHours, len(sent.Hours))
	for i, h := range sent.Hours {
		hours, err := decimalAt("/hours/"+strconv.Itoa(i)+"/hours", h.Hours)
		if err != nil {
			return err
		}
		list[i] = job.NewHours{Crew: h.Crew, Stage: h.Stage, Trade: h.Trade, Hours: hours}
	}
	return s.changeBuild(c, sent.On, plainly(func(b *build, a job.Act) (job.Job, document.Faults) {
		return b.Content.Work(&b.plan, b.crew, a, list)
	}))
}

// decimalAt reads a number whose form the contract has checked.
func decimalAt(at, text string) (decimal.Decimal, error) {
	n, err := decimal.NewFromString(text)
	if err != nil {
		return n, brokenField(at, "wrong_form", "It is not a number.", "Write it in digits.")
	}
	return n, nil
}

// takeBackHours keeps the counter-entry to hours.
func (s *Server) takeBackHours(c *gin.Context) error {
	return s.byReason(c, func(b *build, a job.Act, because string) (job.Job, document.Faults) {
		return b.Content.TakeBack(b.crew, a, numbered(c), because)
	})
}

// recordPart keeps a part issued or returned.
func (s *Server) recordPart(c *gin.Context) error {
	sent, err := decode[openapi.NewPartUsed](c)
	if err != nil {
		return err
	}
	quantity, err := decimalAt("/quantity", sent.Quantity)
	if err != nil {
		return err
	}
	return s.changeBuild(c, sent.On, plainly(func(b *build, a job.Act) (job.Job, document.Faults) {
		b.knowing = sent.Knowing
		return b.Content.Use(&b.plan, a, job.NewPart{Part: sent.Part, Stage: sent.Stage, Quantity: quantity, Because: sent.Because}, b.known)
	}))
}

// takeBackPart takes back a part that was recorded wrongly.
func (s *Server) takeBackPart(c *gin.Context) error {
	return s.takeBack(c, (*job.Job).TakeBackPart)
}

// takeBackSerial takes back a number that was recorded wrongly.
func (s *Server) takeBackSerial(c *gin.Context) error {
	return s.takeBack(c, (*job.Job).TakeBackSerial)
}

// takeBackRemoved takes back where something went.
func (s *Server) takeBackRemoved(c *gin.Context) error {
	return s.takeBack(c, (*job.Job).TakeBackRemoved)
}

// takeBack takes an entry back. Stock moves back with it whatever is left of
// it: what is written down wrongly is no less wrong for that.
func (s *Server) takeBack(c *gin.Context, take func(*job.Job, job.Act, int, string) (job.Job, document.Faults)) error {
	return s.byReason(c, func(b *build, a job.Act, because string) (job.Job, document.Faults) {
		b.knowing = true
		return take(b.Content, a, numbered(c), because)
	})
}

// recordSerial keeps a serial number or a batch.
func (s *Server) recordSerial(c *gin.Context) error {
	sent, err := decode[openapi.NewSerial](c)
	if err != nil {
		return err
	}
	return s.changeBuild(c, sent.On, plainly(func(b *build, a job.Act) (job.Job, document.Faults) {
		return b.Content.Fit(&b.plan, a, job.NewSerial{
			Part: sent.Part, Stage: sent.Stage, Kind: job.SerialKind(sent.Kind), Value: sent.Value, Crew: sent.Crew, InPlaceOf: int(sent.InPlaceOf),
		}, b.known)
	}))
}

// recordPaper keeps a certificate or another paper.
func (s *Server) recordPaper(c *gin.Context) error {
	sent, err := decode[openapi.NewPaper](c)
	if err != nil {
		return err
	}
	return s.changeBuild(c, sent.On, func(b *build, a job.Act) (job.Job, document.Faults, error) {
		by, err := b.signatory(sent.Signatory)
		if err != nil {
			return job.Job{}, nil, err
		}
		now, faults := b.Content.Keep(&b.plan, a, job.NewPaper{Code: sent.Code, Signatory: by, Attachment: int(sent.Attachment)})
		return now, faults, nil
	})
}

// recordWeighing keeps a weighbridge ticket.
func (s *Server) recordWeighing(c *gin.Context) error {
	sent, err := decode[openapi.NewWeighing](c)
	if err != nil {
		return err
	}
	front, frontErr := decimalAt("/front_kg", sent.FrontKg)
	rear, rearErr := decimalAt("/rear_kg", sent.RearKg)
	if err := together(frontErr, rearErr); err != nil {
		return err
	}
	ticket := job.Ticket{FrontKG: front, RearKG: rear, FuelPercent: int(sent.FuelPercent), PeopleCount: int(sent.PeopleCount)}
	return s.changeBuild(c, sent.On, plainly(func(b *build, a job.Act) (job.Job, document.Faults) {
		return b.Content.Weigh(&b.plan, a, ticket, int(sent.Attachment))
	}))
}

// recordSnag keeps something that is not right yet.
func (s *Server) recordSnag(c *gin.Context) error {
	sent, err := decode[openapi.NewSnag](c)
	if err != nil {
		return err
	}
	return s.changeBuild(c, sent.On, plainly(func(b *build, a job.Act) (job.Job, document.Faults) {
		return b.Content.AddSnag(&b.plan, a, job.NewSnag{Stage: sent.Stage, Says: sent.Says, Caution: catalogue.Caution(sent.Caution), PromisedBy: sent.PromisedBy})
	}))
}

// settleSnag promises or closes a snag.
func (s *Server) settleSnag(c *gin.Context) error {
	sent, err := decode[openapi.SnagSettled](c)
	if err != nil {
		return err
	}
	return s.changeBuild(c, sent.On, plainly(func(b *build, a job.Act) (job.Job, document.Faults) {
		if sent.Closed {
			return b.Content.CloseSnag(a, numbered(c), sent.Because)
		}
		return b.Content.PromiseSnag(a, numbered(c), sent.PromisedBy)
	}))
}

// recordShown keeps what the customer was shown.
func (s *Server) recordShown(c *gin.Context) error {
	sent, err := decode[openapi.NewShown](c)
	if err != nil {
		return err
	}
	return s.changeBuild(c, sent.On, plainly(func(b *build, a job.Act) (job.Job, document.Faults) {
		return b.Content.Showed(&b.plan, a, sent.Shown)
	}))
}

// recordRemoved keeps where something goes that was taken out.
func (s *Server) recordRemoved(c *gin.Context) error {
	sent, err := decode[openapi.NewRemoved](c)
	if err != nil {
		return err
	}
	var price *money.Amount
	if sent.Price != (openapi.Money{}) {
		amount, err := money.Parse(sent.Price.Amount, money.Currency(sent.Price.Currency))
		if err != nil {
			return buildRefused(document.Faults{{At: "price", Code: "not_money", Reason: notMoney(err), Remedy: "Write an amount of the workshop's money."}})
		}
		price = &amount
	}
	n := job.NewRemoved{Feature: sent.Feature, To: job.RemovedTo(sent.To), Price: price}
	for i, p := range sent.Shelved {
		quantity, err := decimalAt("/shelved/"+strconv.Itoa(i)+"/quantity", p.Quantity)
		if err != nil {
			return err
		}
		n.Shelved = append(n.Shelved, job.Shelved{Part: p.Part, Quantity: quantity})
	}
	return s.changeBuild(c, sent.On, plainly(func(b *build, a job.Act) (job.Job, document.Faults) {
		b.knowing = true // another word on it takes off the shelf what went there by mistake
		return b.Content.TakeOut(&b.plan, a, n, b.currency, b.catalogue)
	}))
}

// clearBalance keeps that nothing is owed, or the owner's word.
func (s *Server) clearBalance(c *gin.Context) error {
	sent, err := decode[openapi.NewClearance](c)
	if err != nil {
		return err
	}
	how := job.Clears(sent.How)
	if how == job.OwnersWord && principal(c).Role != auth.Owner {
		return &problem{
			code: openapi.ProblemCodeRoleNotAllowed, detail: "To let a van go while something is owed is the owner's word.",
			remedy: "Ask the owner, or record that it is paid.",
		}
	}
	return s.changeBuild(c, sent.On, func(b *build, a job.Act) (job.Job, document.Faults, error) {
		now, faults := b.Content.Clear(a, how, sent.Because)
		if len(faults) > 0 || how != job.Paid {
			return now, faults, nil
		}
		var owed money.Amount
		err := s.readTx(c, func(tx store.ReadTx) (err error) { owed, err = s.stillOwed(tx, b.ID); return err })
		if err == nil && owed.Sign() > 0 {
			faults = document.Faults{{Code: "not_paid", At: "how", Reason: fmt.Sprintf("By the books %s is still to be paid.", owed), Remedy: "Place what came in on the job; or the owner lets the van go."}}
		}
		return now, faults, err
	})
}

// expectVan keeps when the van comes.
func (s *Server) expectVan(c *gin.Context) error {
	sent, err := decode[openapi.NewExpected](c)
	if err != nil {
		return err
	}
	return s.changeBuild(c, "", plainly(func(b *build, a job.Act) (job.Job, document.Faults) {
		return b.Content.Expect(a, sent.Day, sent.From, sent.Confirmed, sent.Because)
	}))
}

// inCondition is what takes the list that both sign.
func (s *Server) inCondition(c *gin.Context, do func(b *build, a job.Act, n job.NewCondition) (job.Job, document.Faults)) error {
	sent, err := decode[openapi.VanCondition](c)
	if err != nil {
		return err
	}
	n := job.NewCondition{
		MileageMiles: int(sent.MileageMiles), FuelPercent: int(sent.FuelPercent), KeyCount: int(sent.KeyCount), KeyHook: sent.KeyHook, Belongings: sent.Belongings,
		Photographs: mapped(sent.Photographs, func(p openapi.VanPhotograph) job.Photograph {
			return job.Photograph{Side: job.Side(p.Side), Attachment: int(p.Attachment)}
		}),
		Marks: mapped(sent.Marks, func(m openapi.NewVanMark) job.NewMark {
			return job.NewMark{Side: job.Side(m.Side), Says: m.Says, Attachment: int(m.Attachment)}
		}),
		Papers: mapped(sent.Papers, func(p openapi.VanPaper) job.VanPaper { return job.VanPaper(p) }),
		Signatures: mapped(sent.Signatures, func(g openapi.NewVanSignature) job.NewSignature {
			return job.NewSignature{For: job.Party(g.For), Name: g.Name, Attachment: int(g.Attachment)}
		}),
	}
	return s.changeBuild(c, sent.On, plainly(func(b *build, a job.Act) (job.Job, document.Faults) { return do(b, a, n) }))
}

// takeVanIn keeps how the van came.
func (s *Server) takeVanIn(c *gin.Context) error {
	return s.inCondition(c, func(b *build, a job.Act, n job.NewCondition) (job.Job, document.Faults) {
		return b.Content.Arrive(a, n)
	})
}

// handOver gives the van to its customer, through the gate.
func (s *Server) handOver(c *gin.Context) error {
	return s.inCondition(c, func(b *build, a job.Act, n job.NewCondition) (job.Job, document.Faults) {
		return b.Content.HandOver(&b.plan, a, n, b.settings.WarrantyMonths)
	})
}

// letVanGo lets the van of a cancelled job go.
func (s *Server) letVanGo(c *gin.Context) error {
	return s.inCondition(c, func(b *build, a job.Act, n job.NewCondition) (job.Job, document.Faults) {
		return b.Content.LeaveUnfinished(a, n)
	})
}

// cancelJob ends a job.
func (s *Server) cancelJob(c *gin.Context) error {
	return s.byReason(c, func(b *build, a job.Act, because string) (job.Job, document.Faults) {
		return b.Content.Cancel(a, because)
	})
}

// takeVanOut sends the van on a trip.
func (s *Server) takeVanOut(c *gin.Context) error {
	sent, err := decode[openapi.NewTrip](c)
	if err != nil {
		return err
	}
	return s.changeBuild(c, sent.On, plainly(func(b *build, a job.Act) (job.Job, document.Faults) { return b.Content.GoOut(a, sent.Why) }))
}

// bringVanBack ends a trip.
func (s *Server) bringVanBack(c *gin.Context) error {
	sent, err := decode[openapi.DayOnly](c)
	if err != nil {
		return err
	}
	return s.changeBuild(c, sent.On, plainly(func(b *build, a job.Act) (job.Job, document.Faults) { return b.Content.ComeBack(a) }))
}

// attach keeps a photograph or a document, with its hash.
func (s *Server) attach(c *gin.Context) error {
	sent, err := decode[openapi.NewAttachment](c)
	if err != nil {
		return err
	}
	content, sum, err := attached(&sent)
	if err != nil {
		return err
	}
	b, now, err := s.doBuild(c, sent.On, plainly(func(b *build, a job.Act) (job.Job, document.Faults) {
		return b.Content.Attach(&b.plan, a, job.Attachment{MediaType: string(sent.MediaType), SHA256: sum, Bytes: len(content), Stage: sent.Stage}, sent.Says)
	}))
	if err != nil {
		return err
	}
	document, err := store.PackJob(now)
	if err != nil {
		return err
	}
	one := now.Attachments[len(now.Attachments)-1]
	body, err := encode(contractAttachment(now, one))
	if err != nil {
		return err
	}
	return s.keep(c, func(tx store.WriteTx) (reply, error) {
		entry, err := tx.ChangeWholeJob(b.WholeJob, now, document)
		if err != nil {
			return reply{}, err
		}
		err = tx.KeepAttachment(b.ID, int64(one.Number), store.JobAttachment{MediaType: one.MediaType, Content: content})
		return reply{
			status: http.StatusCreated, location: "/v1/jobs/" + b.ID.String() + "/attachments/" + strconv.Itoa(one.Number),
			about: "/v1/jobs/" + b.ID.String(), version: entry.Version, body: jsontext.Value(body),
		}, err
	})
}

// attached reads the content of an attachment and its hash, which must be the
// content's where both are given.
func attached(sent *openapi.NewAttachment) (content []byte, sum string, err error) {
	if content, err = base64.StdEncoding.DecodeString(sent.Content); err != nil {
		return nil, "", brokenField("/content", "wrong_form", "It is not base64.", "Send the bytes in base64, with padding.")
	}
	if len(content) == 0 {
		return nil, sent.Sha256, nil // of a paper that is filed elsewhere
	}
	of := sha256.Sum256(content)
	sum = hex.EncodeToString(of[:])
	if sent.Sha256 != "" && sent.Sha256 != sum {
		return nil, "", brokenField("/sha256", "contradiction", "The hash is not of this content.", "Leave it out, or send the content it is of.")
	}
	return content, sum, nil
}

// getAttachment gives an attachment with its content.
func (s *Server) getAttachment(c *gin.Context) error {
	id, err := pathID(c, "job")
	if err != nil {
		return err
	}
	var found store.WholeJob
	var kept store.JobAttachment
	err = s.readTx(c, func(tx store.ReadTx) (err error) {
		if found, err = tx.WholeJob(id); err != nil {
			return notFoundIs(err, "job")
		}
		kept, err = tx.Attachment(id, int64(numbered(c)))
		return notFoundIs(err, "attachment of the job")
	})
	if err != nil {
		return err
	}
	one, ok := found.Content.Attached(numbered(c))
	if !ok {
		return notFound("attachment of the job")
	}
	out := contractAttachment(found.Content, one)
	out.Content = base64.StdEncoding.EncodeToString(kept.Content)
	return answer(c, http.StatusOK, out)
}
