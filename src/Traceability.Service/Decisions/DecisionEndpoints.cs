using Npgsql;
using Traceability.Core.Events;
using Traceability.Service.Operations;
using Traceability.Service.People;

namespace Traceability.Service.Decisions;

/// <summary>Decisions over HTTP. Each is signed with the person's PIN and judged at that moment; refused, it says what stands in the way.</summary>
public static class DecisionEndpoints
{
    /// <param name="Hold">"tying", "close-up", "pour", "strip" or "ship".</param>
    public sealed record ReleaseRequest(string Hold, string Pin, string? Note = null, string? Unit = null);

    public sealed record UndoRequest(string Unit, string Hold, string Reason, string Pin);

    public sealed record OverrideRequest(string Unit, string Hold, string Reason, string Pin, string SecondApprover, string SecondPin);

    public sealed record CorrectionRequest(Guid Record, int ReplacedVersion, System.Text.Json.JsonElement Data, string Reason, string Pin, DateTimeOffset? OccurredAt = null, string? SecondApprover = null, string? SecondPin = null);

    public sealed record WithdrawalRequest(Guid Record, int WithdrawnVersion, string Reason, string Pin, string? SecondApprover = null, string? SecondPin = null);

    /// <param name="Act">Name of the fact, for example "agency.waived".</param>
    public sealed record AgencyRequest(string Act, System.Text.Json.JsonElement Data, string Pin, Letter? Letter = null);

    /// <param name="Person">The inspector's id.</param>
    /// <param name="Through">Last day, inclusive; left out while open.</param>
    public sealed record AssignmentRequest(string Person, string Agency, DateOnly From, string Pin, DateOnly? Through = null, string? Document = null);

    public sealed record DispositionRequest(string Nonconformance, string Disposition, string Procedure, string Pin, Letter? Letter = null);

    public sealed record LotRequest(LotId Lot, string Reason, string Pin, string? Document = null);

    public sealed record AllocationRequest(string Unit, string Contract, string Mark, string Pin, string? Reason = null);

    /// <param name="Profile">Name and version, "national-standards@1".</param>
    public sealed record ConfirmationRequest(string Profile, string Key, string Document, string Page, string Pin, DateOnly? ConfirmedOn = null);

    public sealed record AdoptionRequest(string Contract, string Profile, string Reason, string Pin);

    public static void MapDecisions(this IEndpointRouteBuilder app)
    {
        app.MapPost("/v1/units/{id}/releases", async (string id, ReleaseRequest request, HttpContext http, Releases releases, CancellationToken cancel) =>
                (await releases.ReleaseAsync(id, request.Hold, http.User.PersonId(), request.Pin, request.Note, cancel)).Result())
            .RequireAuthorization(Access.Release).WithTags("Decisions").WithSummary("Release a hold of a unit; the same as /v1/decisions/releases")
            .ProducesProblem(403).ProducesProblem(409).ProducesProblem(422).ProducesProblem(429);

        app.MapIntegrity();
        var decisions = app.MapGroup("/v1/decisions").WithTags("Decisions");
        decisions.MapPost("/releases", async (ReleaseRequest request, HttpContext http, Releases releases, CancellationToken cancel) =>
                (await releases.ReleaseAsync(request.Unit ?? "", request.Hold, http.User.PersonId(), request.Pin, request.Note, cancel)).Result())
            .RequireAuthorization(Access.Release).WithSummary("Release the tying, close-up, pour, strip or ship hold of a unit")
            .WithDescription("Judged at this moment on every record the store holds; refused with the open items when the hold is not ready. It covers the drawing revision, cage, form and heats that are there now, and stands as long as the profile's rule of the hold says.")
            .ProducesProblem(403).ProducesProblem(409).ProducesProblem(422).ProducesProblem(429);
        decisions.MapPost("/undone-releases", async (UndoRequest request, HttpContext http, Releases releases, CancellationToken cancel) =>
                (await releases.UndoAsync(request.Unit, request.Hold, http.User.PersonId(), request.Pin, request.Reason, cancel)).Result())
            .RequireAuthorization(Access.Release).WithSummary("Undo a release whose step was not taken").ProducesProblem(403).ProducesProblem(409).ProducesProblem(422).ProducesProblem(429);
        decisions.MapPost("/overrides", async (OverrideRequest request, HttpContext http, Overriding overriding, CancellationToken cancel) =>
                (await overriding.OverrideAsync(request.Unit, request.Hold, http.User.PersonId(), request.Pin, request.Reason, request.SecondApprover, request.SecondPin, cancel)).Result())
            .RequireAuthorization(Access.Override).WithSummary("Override a plant hold, with a second approver who is not of production")
            .WithDescription("Over an agency's hold, a lifting check or domestic steel there is no override: the answer says breach, it is recorded as one, and it opens nothing.")
            .ProducesProblem(403).ProducesProblem(404).ProducesProblem(409).ProducesProblem(422).ProducesProblem(429);
        decisions.MapPost("/corrections", async (CorrectionRequest r, HttpContext http, Corrections corrections, NpgsqlDataSource source, CancellationToken cancel) =>
                await corrections.RefuseOthersAsync(source, r.Record, http.User, cancel) is { } refused ? Problems.Result(refused)
                : (await corrections.ChangeAsync(new(r.Record, r.ReplacedVersion, r.Reason, r.Pin, r.Data, r.OccurredAt, r.SecondApprover, r.SecondPin), http.User, cancel)).Result())
            .RequireAuthorization(Access.Correct).WithSummary("Correct a record by a full replacement of its content")
            .WithDescription("Judged before and after for each unit it bears on: a correction that turns not met into met is refused without a second approver, with the list of what turns.")
            .ProducesProblem(403).ProducesProblem(404).ProducesProblem(409).ProducesProblem(422).ProducesProblem(429);
        decisions.MapPost("/withdrawals", async (WithdrawalRequest r, HttpContext http, Corrections corrections, NpgsqlDataSource source, CancellationToken cancel) =>
                await corrections.RefuseOthersAsync(source, r.Record, http.User, cancel) is { } refused ? Problems.Result(refused)
                : (await corrections.ChangeAsync(new(r.Record, r.WithdrawnVersion, r.Reason, r.Pin, null, null, r.SecondApprover, r.SecondPin), http.User, cancel)).Result())
            .RequireAuthorization(Access.Correct).WithSummary("Withdraw a record that never should have been made").ProducesProblem(403).ProducesProblem(404).ProducesProblem(409).ProducesProblem(422).ProducesProblem(429);
        decisions.MapPost("/agency-acts", async (AgencyRequest r, HttpContext http, AgencyActs acts, CancellationToken cancel) =>
                (await acts.RecordAsync(r.Act, r.Data, r.Letter, http.User.PersonId(), r.Pin, cancel)).Result())
            .RequireAuthorization(Access.Agency).WithSummary("Record what the agency did: presence, release of its hold, waiver, stamp, rejection, acceptance by letter")
            .WithDescription("act: " + string.Join(", ", AgencyActs.All.Keys) + "; data: the content of that fact. By an inspector of the unit's agency, or by the quality engineer from the agency's letter, uploaded before (POST /v1/documents). A release by telephone names who said it, when and the words, where the profile allows it.")
            .ProducesProblem(403).ProducesProblem(404).ProducesProblem(409).ProducesProblem(422).ProducesProblem(429);
        decisions.MapPost("/inspector-assignments", async (AssignmentRequest r, HttpContext http, Assignments assignments, CancellationToken cancel) =>
                (await assignments.AssignAsync(r.Person, r.Agency, r.From, r.Through, r.Document, http.User.PersonId(), r.Pin, cancel)).Result())
            .RequireAuthorization(Access.Inspectors).WithSummary("Assign a person to an agency as its inspector, for a time").WithDescription("agency: named as its contracts name it. Both days are included. An assignment that ends early is corrected.")
            .ProducesProblem(403).ProducesProblem(422).ProducesProblem(429);
        decisions.MapPost("/dispositions", async (DispositionRequest r, HttpContext http, Dispositions dispositions, CancellationToken cancel) =>
                (await dispositions.DisposeAsync(r.Nonconformance, r.Disposition, r.Procedure, r.Letter, http.User.PersonId(), r.Pin, cancel)).Result())
            .RequireAuthorization(Access.Dispose).WithSummary("Decide what becomes of a nonconformance").ProducesProblem(403).ProducesProblem(404).ProducesProblem(409).ProducesProblem(422).ProducesProblem(429);
        decisions.MapPost("/lot-quarantines", async (LotRequest r, HttpContext http, LotsAndMarks lots, CancellationToken cancel) =>
                (await lots.LotAsync(r.Lot, r.Reason, null, clear: false, http.User.PersonId(), r.Pin, cancel)).Result())
            .RequireAuthorization(Access.Lots).WithSummary("Quarantine a lot; releases that rest on it expire").ProducesProblem(403).ProducesProblem(409).ProducesProblem(422).ProducesProblem(429);
        decisions.MapPost("/lot-clearances", async (LotRequest r, HttpContext http, LotsAndMarks lots, CancellationToken cancel) =>
                (await lots.LotAsync(r.Lot, r.Reason, r.Document, clear: true, http.User.PersonId(), r.Pin, cancel)).Result())
            .RequireAuthorization(Access.Lots).WithSummary("Clear a quarantined lot on a document").ProducesProblem(403).ProducesProblem(409).ProducesProblem(422).ProducesProblem(429);
        decisions.MapPost("/limit-confirmations", async (ConfirmationRequest r, HttpContext http, ProfilesInForce profiles, CancellationToken cancel) =>
                (await profiles.ConfirmAsync(r.Profile, r.Key, r.Document, r.Page, r.ConfirmedOn, http.User.PersonId(), r.Pin, cancel)).Result())
            .RequireAuthorization(Access.Profiles).WithSummary("Confirm a limit of a published profile against a page of its document").ProducesProblem(403).ProducesProblem(404).ProducesProblem(422).ProducesProblem(429);
        decisions.MapPost("/profile-adoptions", async (AdoptionRequest r, HttpContext http, ProfilesInForce profiles, CancellationToken cancel) =>
                (await profiles.AdoptAsync(r.Contract, r.Profile, r.Reason, http.User.PersonId(), r.Pin, cancel)).Result())
            .RequireAuthorization(Access.Profiles).WithSummary("Say which published profile judges a contract from now on").ProducesProblem(403).ProducesProblem(404).ProducesProblem(409).ProducesProblem(422).ProducesProblem(429);
        decisions.MapPost("/allocations", async (AllocationRequest r, HttpContext http, LotsAndMarks lots, CancellationToken cancel) =>
                (await lots.MarkAsync(r.Unit, r.Contract, r.Mark, r.Reason, http.User.PersonId(), r.Pin, cancel)).Result())
            .RequireAuthorization(Access.Allocate).WithSummary("Allocate a stock unit to a contract, or give a unit another mark or contract; judged anew").ProducesProblem(403).ProducesProblem(404).ProducesProblem(422).ProducesProblem(429);
    }
}
