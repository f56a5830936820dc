using System.Globalization;
using System.Text.Json;
using Npgsql;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Service.Linking;
using Traceability.Service.Operations;
using Traceability.Service.People;
using Traceability.Service.Recording;

namespace Traceability.Service.Decisions;

/// <summary>What came of asking for a release.</summary>
public sealed record ReleaseResult(Judgement Judgement, long Position, Outcome? Recorded, string? AlreadyReleasedBy);

/// <summary>
/// Releases a hold: judged now, on fresh records, inside the writing transaction, so that no record can come between the
/// judgement and the release that rests on it. The judgement is stored by its hash.
/// </summary>
public sealed class Releases(Recorder recorder, TimeProvider clock, ScenarioClock? scenario = null)
{
    public async Task<ReleaseResult> ReleaseAsync(Subject unit, HoldKind kind, string person, string? note, CancellationToken cancel)
    {
        await using var writing = await recorder.BeginAsync(cancel);
        var dossier = await DossierStore.LoadAsync(writing.Connection, unit, null, cancel);
        var now = clock.GetUtcNow();
        var judgement = Judge.Dossier(dossier, now);
        var hold = judgement.Hold(kind);
        if (!hold.MayBeReleased)
            return new(judgement, dossier.Position, null, hold.State == HoldState.Released ? hold.Release?.ToString() : null);

        var basis = new DecisionBasis(dossier.Position, judgement.Hash, judgement.RulesVersion);
        IFact fact = kind switch
        {
            HoldKind.Pour => new PourReleased(unit.Id, basis, note),
            HoldKind.Strip => new StripReleased(unit.Id, basis, note),
            HoldKind.Ship => new ShipReleased(unit.Id, basis, note),
            _ => throw new ArgumentOutOfRangeException(nameof(kind), kind, "this hold has no release"),
        };
        var canonical = CanonicalJson.Canonicalize(JsonSerializer.SerializeToUtf8Bytes(new
        {
            specversion = "1.0",
            id = Guid.CreateVersion7(now).ToString(),
            source = Recorder.DecisionsSource,
            type = FactCatalog.Of(fact).Type,
            subject = unit.Key,
            time = now.ToString("yyyy-MM-dd'T'HH:mm:ss.ffffffzzz", CultureInfo.InvariantCulture),
            datacontenttype = "application/json",
            person,
            clockoffsetms = 0,
            assurance = "pin",
            data = FactCatalog.Write(fact),
        }));
        await using (var keep = new NpgsqlCommand("insert into trace.judgement (hash, bytes) values ($1, $2) on conflict do nothing", writing.Connection)
        { Parameters = { new() { Value = judgement.Hash }, new() { Value = judgement.Bytes } } })
        {
            await keep.ExecuteNonQueryAsync(cancel);
        }

        var sent = CloudEvent.ReadCanonical(canonical);
        var received = new Received(canonical, "service", "service" + (scenario is null ? "" : ", scenario clock"), now, null, System.Diagnostics.Activity.Current?.Id);
        var outcomes = await writing.AddAsync([(received, sent)], cancel);
        await writing.CommitAsync(cancel);
        return new(judgement, dossier.Position, outcomes[0], null);
    }
}

public static class ReleaseEndpoints
{
    /// <param name="Hold">"pour", "strip" or "ship".</param>
    public sealed record ReleaseRequest(string Hold, string Pin, string? Note = null);

    public static void MapDecisions(this IEndpointRouteBuilder app) =>
        app.MapPost("/v1/units/{id}/releases", PostAsync).RequireAuthorization(Access.Release).WithTags("Decisions")
            .WithSummary("Release the pour, strip or ship hold of a unit")
            .WithDescription("Judged at this moment on every record the store holds. Refused with the open items when the hold is not ready. Signed with the person's PIN.")
            .ProducesProblem(403).ProducesProblem(409).ProducesProblem(422);

    private static async Task<IResult> PostAsync(string id, ReleaseRequest request, HttpContext http, Releases releases, Signing signing, CancellationToken cancel)
    {
        if (!Subject.IsId(id, "unit"))
            return Problems.Result(Problems.Shape([new("id", "must be a unit's serial", "Use the serial as marked.")]));
        if (!Enum.TryParse<HoldKind>(request.Hold, ignoreCase: true, out var kind) || kind is not (HoldKind.Pour or HoldKind.Strip or HoldKind.Ship))
            return Problems.Result(Problems.Shape([new("hold", "must be pour, strip or ship", "Name the hold to release.")]));
        if (request.Note is { Length: > 500 })
            return Problems.Result(Problems.Shape([new("note", "must be at most 500 characters", "Shorten it.")]));
        var signed = signing.Pin(http.User.PersonId(), request.Pin);
        if (signed.Person is not { } person) return Problems.Result(signed.Problem!);

        var result = await releases.ReleaseAsync(Subject.Unit(id), kind, person.Id, request.Note, cancel);
        var hold = result.Judgement.Hold(kind);
        if (result.Recorded is { } recorded)
            return Results.Json(new { unit = id, hold = kind, release = recorded.RecordId, position = recorded.Position, basis = new { position = result.Position, judgement = result.Judgement.Hash, rules = result.Judgement.RulesVersion } }, FactJson.Options, statusCode: 201);
        return result.AlreadyReleasedBy is { } by
            ? Problems.Result(Problems.Of(409, "already-released", "The hold is already released", $"Unit {id}: the {kind.ToString().ToLowerInvariant()} hold was released by record {by}."))
            : Problems.Result(Problems.Of(409, "hold-not-ready", "The hold is not ready",
                $"Unit {id}: {hold.OpenItems.Count} items stand in the way of the {kind.ToString().ToLowerInvariant()} as of log position {result.Position}.",
                ("state", hold.State.ToString()), ("position", result.Position),
                ("openItems", hold.OpenItems.Select(o => new { requirement = o.Requirement, subject = o.Subject, verdict = o.Verdict.ToString(), reason = o.Reason, clear = o.Clear }).ToList())));
    }
}
