package api_test

import (
	"bytes"
	"context"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"net/http"
	"testing"
	"time"

	"github.com/google/uuid"

	"wainscot/api"
	"wainscot/api/apitest"
	"wainscot/api/auth"
	"wainscot/api/store"
	"wainscot/bom/catalogue"
	"wainscot/openapi"
	"wainscot/pricing/job"
	"wainscot/pricing/quote"
)

// A workshop of many years: so many lines of a bank, against the payments that
// are open of so many jobs, three of each.
const (
	manyLines = 100_000
	manyDues  = 5_000
	manyJobs  = manyDues/3 + 1
)

// BenchmarkReconcile takes in 100,000 lines of an account over loopback and asks
// what they may be, 5,000 payments being open: by a server that has just been
// started and knows of no agreement, and again.
func BenchmarkReconcile(b *testing.B) {
	defer api.CollectSeldom(api.MemoryMiB)()
	w := openWorld(b)
	h := open(b, w.Server.Handler(), w.Ours.Token[auth.Owner])
	h.client.Timeout = 5 * time.Minute
	references := agreedJobs(b, w, h)
	file := longStatement(references)
	for b.Loop() {
		account := bankAccount(b, h)
		body := `{"account":"` + account + `","content":"` + base64.StdEncoding.EncodeToString(file) + `"}`
		h.timed(b, "import", func() error {
			_, err := h.post(b.Context(), "/v1/statements", uuid.NewString(), "", body, http.StatusCreated)
			return err
		})
		for _, what := range []string{"proposals", "again"} {
			var found openapi.LinesToReconcile
			h.timed(b, what, func() error {
				return h.get(b.Context(), "/v1/bank-accounts/"+account+"/reconciliation?limit=100", &found)
			})
			if found.Open != manyLines || int(found.Certain) < len(references) {
				b.Fatalf("%d open, %d certain", found.Open, found.Certain)
			}
		}
	}
}

// timed reports how long something took, and how long of the processors: that
// is nearly the same on a busy machine.
func (h *house) timed(b *testing.B, what string, do func() error) {
	b.Helper()
	began, before := time.Now(), processorTime(b)
	if err := do(); err != nil {
		b.Fatal(err)
	}
	b.ReportMetric(time.Since(began).Seconds(), what+"-s")
	b.ReportMetric((processorTime(b) - before).Seconds(), what+"-processor-s")
}

// get asks for something.
func (h *house) get(ctx context.Context, path string, into any) error {
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, h.address+path, http.NoBody)
	if err != nil {
		return err
	}
	request.Header.Set("Authorization", "Bearer "+h.token)
	response, err := h.client.Do(request)
	if err != nil {
		return err
	}
	defer response.Body.Close()
	if response.StatusCode != http.StatusOK {
		return fmt.Errorf("%s: %d", path, response.StatusCode)
	}
	return json.NewDecoder(response.Body).Decode(into)
}

// agreedJobs are jobs of a whole conversion each, with a customer and a quote
// of its own, and the references they are paid under. One is issued over the
// API; the others are kept with what it froze.
func agreedJobs(b *testing.B, w *apitest.World, h *house) (references []string) {
	b.Helper()
	text, err := h.post(b.Context(), "/v1/quotes", uuid.NewString(), "", `{"vans":[{`+vanAndChoices(1)+`,"settle":"by defaults"}]}`, http.StatusCreated)
	var first openapi.QuoteKept
	if err == nil {
		err = json.Unmarshal(text, &first)
	}
	if err == nil {
		_, err = h.post(b.Context(), "/v1/quotes/"+first.Id+"/issue", uuid.NewString(), `"1"`, "{}", http.StatusOK)
	}
	if err != nil {
		b.Fatal(err)
	}
	ours := w.Store.As(w.Ours.Principal[auth.Owner])
	var was store.Revision
	err = ours.Read(b.Context(), func(tx store.ReadTx) (err error) {
		was, err = tx.Revision(uuid.MustParse(first.Id), 1)
		return err
	})
	if err != nil {
		b.Fatal(err)
	}
	content := agreedOf(b, &was)
	for len(references) < manyJobs {
		err := ours.Write(b.Context(), func(tx store.WriteTx) error {
			for range min(200, manyJobs-len(references)) {
				reference, err := keepAgreed(tx, &was, content, len(references))
				if err != nil {
					return err
				}
				references = append(references, reference)
			}
			return nil
		})
		if err != nil {
			b.Fatal(err)
		}
	}
	return references
}

// agreedOf is the job of the first van of an issued revision.
func agreedOf(b *testing.B, was *store.Revision) store.NewJob {
	b.Helper()
	text, err := was.Document.Unpack()
	if err != nil {
		b.Fatal(err)
	}
	d, err := quote.Decode(text)
	if err != nil {
		b.Fatal(err)
	}
	sheet := &d.Vans[0].Sheet
	var stages []catalogue.Stage
	for _, t := range sheet.Stages {
		stages = append(stages, catalogue.Stage{Code: t.Stage, Name: t.Stage})
	}
	content := job.New(sheet, stages, was.IssuedOn)
	packed, err := store.PackJob(&content)
	if err != nil {
		b.Fatal(err)
	}
	return store.NewJob{Place: 1, Content: content, Document: packed}
}

// keepAgreed keeps one more quote with what another froze, its customer and its
// job.
func keepAgreed(tx store.WriteTx, was *store.Revision, content store.NewJob, n int) (reference string, err error) {
	who, err := tx.AddCustomer(store.CustomerContent{Kind: quote.Private, Name: payerName(n), KeepUntil: "2032-11-25"})
	if err != nil {
		return "", err
	}
	q, err := tx.CreateQuote(store.QuoteContent{Customer: who.ID, Vans: was.Vans, Worked: was.Worked, Asked: was.Asked})
	if err != nil {
		return "", err
	}
	q, err = tx.IssueQuote(q.ID, q.Version, store.Frozen{Worked: was.Worked, Document: was.Document, IssuedOn: was.IssuedOn, ValidUntil: was.ValidUntil})
	if err != nil {
		return "", err
	}
	if _, err := tx.AddJobs(q, 1, []store.NewJob{content}); err != nil {
		return "", err
	}
	return quote.Reference(q.Number, 1)
}

func payerName(n int) string { return fmt.Sprintf("%c%cmoss%04d", 'a'+n%26, 'a'+n/26%26, n) }

// bankAccount adds an account whose statements are CSV.
func bankAccount(b *testing.B, h *house) string {
	b.Helper()
	var made openapi.BankAccount
	text, err := h.post(b.Context(), "/v1/column-maps", uuid.NewString(), "", `{"name":"The bank's CSV","columns":{"between":",","day":"Date","day_order":"year month day",
		"amount":"Amount","decimal":".","words":["Details"],"party":"Name","party_account":"Account"}}`, http.StatusCreated)
	var columns openapi.ColumnMap
	if err == nil {
		err = json.Unmarshal(text, &columns)
	}
	if err == nil {
		text, err = h.post(b.Context(), "/v1/bank-accounts", uuid.NewString(), "", fmt.Sprintf(
			`{"name":"Current","number":"GB82WEST12345698765432","currency":"GBP","holds":"bank","columns":%q}`, columns.Id), http.StatusCreated)
	}
	if err == nil {
		err = json.Unmarshal(text, &made)
	}
	if err != nil {
		b.Fatal(err)
	}
	return made.Id
}

// longStatement is a year of a bank: a part payment for each reference, and
// else what a workshop has nothing to do with.
func longStatement(references []string) []byte {
	var b bytes.Buffer
	b.WriteString("Date,Details,Name,Account,Amount\n")
	every := manyLines / len(references)
	for i := range manyLines {
		day := fmt.Sprintf("2025-%02d-%02d", 1+i*12/manyLines, 1+i%28)
		if n := i / every; i%every == 0 && n < len(references) {
			fmt.Fprintf(&b, "%s,van %s,%s,GB%08d,500.00\n", day, references[n], payerName(n), n)
			continue
		}
		fmt.Fprintf(&b, "%s,PAYMENT %d FOR SOMETHING,FIRM %d,GB%08d,%d.%02d\n", day, i, i%500, 90_000_000+i%500, i%4001-2000, i%100)
	}
	return b.Bytes()
}
