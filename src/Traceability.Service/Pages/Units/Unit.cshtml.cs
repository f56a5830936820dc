using Microsoft.AspNetCore.Authorization;
using Microsoft.AspNetCore.Mvc;
using Microsoft.AspNetCore.Mvc.RazorPages;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Service.Decisions;
using Traceability.Service.Linking;
using Traceability.Service.People;
using Traceability.Service.Units;

namespace Traceability.Service.Pages.Units;

/// <summary>What came of a release asked for on the page.</summary>
public sealed record ReleaseAnswer(HoldKind Hold, string Title, string Text, IReadOnlyList<OpenItem> OpenItems);

/// <summary>What may be decided at one hold, and by whom who looks at it.</summary>
public sealed record HoldDecision(string Serial, Hold Hold, bool MayRelease, bool MayOverride, bool MayRecordAgency);

/// <summary>One finding with the records it cites.</summary>
public sealed record FindingView(Finding Finding, string Subject, string? Href, IReadOnlyList<Evidence> Used, IReadOnlyList<Evidence> SetAside)
{
    public Mark Mark => Words.Of(Finding.Verdict);
}

public sealed record Evidence(Guid Record, string Name, string? Why);

[Authorize(Policy = Access.Read)]
public sealed class UnitModel(UnitReader reader, DossierStore dossiers, Releases releases, Overriding overriding, AgencyActs agency, Letters letters, IAuthorizationService authorization, PlantSettings plant) : PageModel
{
    public string Serial { get; private set; } = "";

    /// <summary>The moment the unit is shown as known at; null for now.</summary>
    public AsKnown? AsKnown { get; private set; }

    /// <summary>What is wrong with the moment asked for; null when nothing is.</summary>
    public string? Problem { get; private set; }

    /// <summary>Log positions of every record that bears on the unit now, in order.</summary>
    public IReadOnlyList<long> Steps { get; private set; } = [];

    public UnitNow Now { get; private set; } = null!;

    public bool Found { get; private set; }

    public bool MayRelease { get; private set; }

    public bool MayOverride { get; private set; }

    public bool MayRecordAgency { get; private set; }

    /// <summary>What was decided just now, in words.</summary>
    public string? Done { get; private set; }

    public HoldKind? JustReleased { get; private set; }

    public ReleaseAnswer? Answer { get; private set; }

    public IReadOnlyList<TimelineRow> Rows { get; private set; } = [];

    public Lineage Lineage { get; private set; } = null!;

    public async Task<IActionResult> OnGetAsync(string id, string? position, string? at, HoldKind? released, CancellationToken cancel)
    {
        (var asKnown, var problem) = await AsKnownQuery.ReadAsync(dossiers, position, plant.Moment(at), cancel);
        Problem = problem?.Detail;
        await LoadAsync(id, asKnown, cancel);
        if (Found && released is { } kind && Now.Judgement.Hold(kind) is { State: HoldState.Released }) JustReleased = kind;
        return Page();
    }

    [May(Access.Release)]
    public async Task<IActionResult> OnPostAsync(string id, HoldKind hold, string? pin, string? note, CancellationToken cancel)
    {
        if (!ModelState.IsValid || !Subject.IsId(id, "unit")) return BadRequest();
        var decided = await releases.ReleaseAsync(id, hold.ToString(), User.PersonId(), pin, string.IsNullOrWhiteSpace(note) ? null : note.Trim(), cancel);
        if (decided.Problem is null) return LocalRedirect($"{Words.Unit(id)}?released={hold}");
        return await RefuseAsync(id, hold, decided, cancel);
    }

    [May(Access.Release)]
    public async Task<IActionResult> OnPostUndoAsync(string id, HoldKind hold, string? pin, string? reason, CancellationToken cancel)
    {
        var decided = await releases.UndoAsync(id, hold.ToString(), User.PersonId(), pin, reason, cancel);
        return decided.Problem is null ? await DoneAsync(id, $"{Words.Of(hold)} hold: undone. The record names you and the reason.", cancel) : await RefuseAsync(id, hold, decided, cancel);
    }

    [May(Access.Override)]
    public async Task<IActionResult> OnPostOverrideAsync(string id, HoldKind hold, string? pin, string? reason, string? second, string? secondPin, CancellationToken cancel)
    {
        var decided = await overriding.OverrideAsync(id, hold.ToString(), User.PersonId(), pin, reason, second?.Trim(), secondPin, cancel);
        return decided.Answer is OverrideWritten over
            ? await DoneAsync(id, over.Breach ? $"{Words.Of(hold)} hold: {over.Why}" : $"{Words.Of(hold)} hold overridden. The record names you, {second} and the reason.", cancel)
            : await RefuseAsync(id, hold, decided, cancel);
    }

    [May(Access.Agency)]
    public async Task<IActionResult> OnPostWaiveAsync(string id, HoldKind hold, string? requirement, DateTime from, DateTime until, string? letter, IFormFile? document, string? conditions, string? pin, CancellationToken cancel)
    {
        if (!ModelState.IsValid || !Subject.IsId(id, "unit")) return BadRequest();
        static string? Given(string? text) => string.IsNullOrWhiteSpace(text) ? null : text.Trim();
        var waiver = new AgencyWaived([id], hold, plant.At(from), plant.At(until), Given(letter) ?? "", Given(requirement), Given(conditions));
        Letter? uploaded = null;
        if (document is { Length: > 0 })
        {
            if (!WhoMay.To(Access.Letters).Allows(User, own: false)) return Forbid();
            var (kept, refused) = await letters.KeepAsync(document, User.PersonId(), cancel);
            if (refused is not null) return await RefuseAsync(id, hold, refused, cancel);
            uploaded = new($"Letter {waiver.Letter}", kept!.Sha256, kept.MediaType);
        }

        var decided = await agency.RecordAsync(FactCatalog.Of<AgencyWaived>().Name, FactCatalog.Write(waiver), uploaded, User.PersonId(), pin, cancel);
        return decided.Problem is null ? await DoneAsync(id, $"{Words.Of(hold)} hold: the agency's waiver is recorded.", cancel) : await RefuseAsync(id, hold, decided, cancel);
    }

    private async Task<IActionResult> DoneAsync(string id, string said, CancellationToken cancel)
    {
        await LoadAsync(id, null, cancel);
        Done = said;
        return Page();
    }

    private async Task<IActionResult> RefuseAsync(string id, HoldKind hold, Decided decided, CancellationToken cancel)
    {
        await LoadAsync(id, null, cancel);
        Answer = new(hold, decided.Problem!.Title!, decided.Problem.Detail!, decided.OpenItems);
        Response.StatusCode = decided.Problem.Status!.Value;
        return Page();
    }

    /// <summary>The findings of one hold: what needs somebody first.</summary>
    public IEnumerable<FindingView> Findings(HoldKind kind) =>
        Now.Judgement.Findings.Where(f => f.Hold == kind).Select(View).OrderByDescending(f => f.Mark.Urgency).ThenBy(f => f.Finding.Title, StringComparer.Ordinal);

    private FindingView View(Finding finding)
    {
        var own = Now.Dossier.Unit.Key;
        var href = Words.Href(finding.Subject);
        var subject = finding.Subject == own ? "" : finding.Subject.StartsWith(own + " ", StringComparison.Ordinal) ? finding.Subject[(own.Length + 1)..] : finding.Subject;
        return new(finding, subject, finding.Subject.StartsWith(own, StringComparison.Ordinal) ? null : href,
            [.. finding.Used.Select(u => Cite(u, null))], [.. finding.SetAside.Select(s => Cite(s.Record, s.Why))]);
    }

    private Evidence Cite(Guid id, string? why)
    {
        var record = Now.Dossier.Records.FirstOrDefault(r => r.Id == id);
        return new(id, record is null ? id.ToString() : $"{Words.OfType(record.Type)} {(record.Fact?.About.Kind is "unit" or "record" or null ? "" : record.Fact.About.Id)}".TrimEnd(), why);
    }

    private async Task LoadAsync(string id, AsKnown? asKnown, CancellationToken cancel)
    {
        Serial = id;
        AsKnown = asKnown;
        if (Subject.IsId(id, "unit"))
        {
            Now = await reader.ReadAsync(Subject.Unit(id), asKnown, cancel);
            Found = Now.File.Entries.Count > 0 || Now.File.SetAside.Count > 0;
        }

        if (!Found)
        {
            Response.StatusCode = StatusCodes.Status404NotFound;
            return;
        }

        MayRelease = asKnown is null && (await authorization.AuthorizeAsync(User, Access.Release)).Succeeded;
        MayOverride = asKnown is null && (await authorization.AuthorizeAsync(User, Access.Override)).Succeeded;
        MayRecordAgency = asKnown is null && (await authorization.AuthorizeAsync(User, Access.Agency)).Succeeded;
        Rows = Timeline.Of(Now.Dossier, Now.File);
        var today = asKnown is null ? Now : await reader.ReadAsync(Now.Dossier.Unit, null, cancel);
        Steps = [.. Timeline.Of(today.Dossier, today.File).Select(r => r.Record.Position).Order()];
        Lineage = Lineage.Of(Now.File);
    }
}
