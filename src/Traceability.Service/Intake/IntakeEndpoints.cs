using System.Collections.Concurrent;
using System.Diagnostics;
using System.Runtime.InteropServices;
using System.Security.Claims;
using System.Text.Json;
using Microsoft.AspNetCore.Mvc;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Service.Operations;
using Traceability.Service.People;
using Traceability.Service.Recording;

namespace Traceability.Service.Intake;

/// <summary>What the sender learns of one fact.</summary>
public sealed record Receipt
{
    public string? Id { get; init; }
    public string? Source { get; init; }
    public Guid? RecordId { get; init; }
    public string? ContentHash { get; init; }
    public required EntryStatus Status { get; init; }
    public long? Position { get; init; }

    /// <summary>Whether a signed checkpoint covers the record.</summary>
    public bool? Sealed { get; init; }
    public ProblemDetails? Problem { get; init; }
}

/// <summary>Takes facts in: authenticates, checks the shape, stamps, hands over, answers. Never needs the database to answer when a bus is there.</summary>
public sealed class FactIntake(IHandover handover, Register register, TimeProvider clock, PlantTime time, ScenarioClock? scenario = null)
{
    private const int RememberedFacts = 200_000;

    /// <summary>How far ahead of the service's clock a fact may say that it happened. Our own choice: a clock set by hand is minutes off, not a quarter of an hour.</summary>
    public static readonly TimeSpan Ahead = TimeSpan.FromMinutes(15);

    // Best effort only: what was handed over from here lately. The recorder decides; this answers 409 at once where it can.
    private readonly ConcurrentDictionary<Guid, string> _handed = new();

    /// <param name="proved">People whose sign-on at the device came with the request.</param>
    public async Task<IReadOnlyList<Receipt>> TakeAsync(IReadOnlyList<ReadOnlyMemory<byte>> events, ClaimsPrincipal device, IReadOnlySet<string> proved, CancellationToken cancel)
    {
        var receivedAt = clock.GetUtcNow();
        var receipts = new Receipt[events.Count];
        var taken = new List<(int Index, CloudEvent Sent, Received Entry)>();
        for (var i = 0; i < events.Count; i++)
        {
            try
            {
                var sent = CloudEvent.Read(events[i].Span);
                if (_handed.TryGetValue(sent.RecordId, out var hash) && hash != sent.ContentHash)
                {
                    receipts[i] = Answer(sent, EntryStatus.Conflict) with
                    {
                        Problem = Problems.Of(StatusCodes.Status409Conflict, "other-content", "Another content was sent under this id",
                            $"id '{sent.Id}' of source '{sent.Source}' was taken in with content {hash}. Ids are unique per source: send a changed fact as a correction, another fact under another id."),
                    };
                    continue;
                }

                var signature = DeviceSigning.Checked(sent, register.Device(device.FindFirstValue(ClaimTypes.NameIdentifier)!)!);
                var reason = Admit(sent, device, receivedAt);
                var waits = WaitsFor.Administrator;
                if (reason is null) (reason, waits) = Unproved(sent, proved);
                var assurance = device.FindFirstValue(DeviceAuthentication.AssuranceClaim)! + (scenario is null ? "" : ", scenario clock");
                taken.Add((i, sent, new Received(sent.Canonical.ToArray(), device.FindFirstValue(ClaimTypes.NameIdentifier)!, assurance, receivedAt, reason, Activity.Current?.Id, waits, signature)));
            }
            catch (FactShapeException e)
            {
                receipts[i] = Refused(events[i].Span, Problems.Shape(e.Problems));
            }
            catch (CanonicalJsonException e)
            {
                receipts[i] = Refused(events[i].Span, Problems.Of(StatusCodes.Status400BadRequest, "not-json", "The event is not JSON that has one meaning", e.Message + " Send valid JSON without repeated names; it was not taken in."));
            }
        }

        if (taken.Count == 0) return receipts;
        var outcomes = await handover.HandAsync(taken.ConvertAll(t => t.Entry), cancel);
        Telemetry.ReceivedFacts.Add(taken.Count);
        if (_handed.Count > RememberedFacts) _handed.Clear();
        for (var n = 0; n < taken.Count; n++)
        {
            var (index, sent, entry) = taken[n];
            // Whether a restatement waits is told by who records it.
            var status = outcomes?[n].Status ?? (entry.Quarantine is null || entry.WaitsFor == WaitsFor.Weighing ? EntryStatus.Received : SetApart.StatusOf(entry.WaitsFor));
            if (status is EntryStatus.Received or EntryStatus.Recorded or EntryStatus.Duplicate) _handed.TryAdd(sent.RecordId, sent.ContentHash);
            var why = outcomes?[n].Reason ?? (status == EntryStatus.Received ? null : entry.Quarantine);
            receipts[index] = Answer(sent, status) with
            {
                RecordId = outcomes?[n].RecordId ?? sent.RecordId,
                Position = outcomes?[n].Position,
                Problem = why is null ? null : Problems.Of(status == EntryStatus.Conflict ? 409 : 202, status.ToString().ToLowerInvariant(),
                    status switch
                    {
                        EntryStatus.Conflict => "Another content was recorded under this id; both are shown",
                        EntryStatus.Parked => "It could not be recorded and is kept apart",
                        EntryStatus.Claimed => "Kept as a claim; it counts when its person confirms it",
                        EntryStatus.Weighing => "Kept; what it turns is judged before it counts",
                        EntryStatus.Early => "Kept; the record that it changes has not come yet",
                        EntryStatus.Approval => "Kept; it counts when a second person approves it",
                        _ => "Kept apart until an administrator clears it; it does not count",
                    }, why),
            };
        }

        return receipts;
    }

    /// <summary>Why a well-formed fact may not count yet; null when it may.</summary>
    /// <exception cref="FactShapeException">The content does not have the shape of its type.</exception>
    private string? Admit(CloudEvent sent, ClaimsPrincipal user, DateTimeOffset receivedAt)
    {
        if (sent.Source == Recorder.DecisionsSource)
            throw new FactShapeException([new("source", $"'{Recorder.DecisionsSource}' is the service's own", "Send under the station's source.")]);
        if (!FactCatalog.All.TryGetValue(sent.Type, out var type))
        {
            // A version that is not read here may be a newer kiosk's: it is kept. A name that no version has is a slip of whoever set the station up.
            return FactCatalog.IsOtherVersion(sent.Type) ? $"'{sent.Type}' is a version of its type that this service does not read"
                : throw new FactShapeException([new("type", $"'{sent.Type}' is not a type this service knows", $"{(FactCatalog.Nearest(sent.Type) is { } near ? $"The nearest is '{near}'. " : "")}GET /v1/schemas lists the types.")]);
        }

        var fact = FactCatalog.Read(type, sent.Data);
        CheckIdentities(sent, fact);
        if (fact is IDecision)
            throw new FactShapeException([new("type", "a decision is judged and written by the service", "Decide on the unit's page or with POST /v1/units/{id}/releases.")]);
        if (sent.SubjectText is { } subject && subject != fact.About.Key && fact is not (RecordCorrected or RecordWithdrawn))
            throw new FactShapeException([new("subject", $"must be '{fact.About.Key}', the subject of the content, or be left out", "Check which of the two is right.")]);
        if (sent.Time - TimeSpan.FromMilliseconds(sent.ClockOffsetMs ?? 0) - receivedAt > Ahead)
            return $"it says that it happens at {time.Local(sent.Time):yyyy-MM-dd HH:mm zzz}, which has not come yet; it was received at {time.Local(receivedAt):yyyy-MM-dd HH:mm zzz}. Set the station's clock, or let it measure its offset (GET /v1/time)";
        var device = register.Device(user.FindFirstValue(ClaimTypes.NameIdentifier)!)!;
        if (device.RevokedAt is not null) return $"device {device.Id} was revoked";
        // A source names the station a fact comes from; what another device sends under it would stand as that station's.
        if (device.Sources is { } own && !own.Contains(sent.Source, StringComparer.Ordinal)) return $"device {device.Id} does not send under the source {sent.Source}";
        if (device.Sources is null && register.OwnerOf(sent.Source) is { } other) return $"the source {sent.Source} belongs to device {other.Id}";
        if (!type.Roles.Any(device.Roles.Contains)) return $"device {device.Id} does not have the station role {string.Join(" or ", type.Roles)}";
        if (sent.Person is null) return WhoMay.NotDecidedSo(fact, null);
        if (register.Person(sent.Person) is not { } person) return $"person {sent.Person} is not in the register";
        if (person.LapsedAt is { } lapsed && lapsed <= sent.Time) return $"the roles of {person.Id} lapsed before it happened";
        // The agency's inspector speaks at the agency's own device or signed on; the plant's stations cannot lend them their voice.
        if (person.Roles.Contains(Roles.AgencyInspector) && !device.Roles.Contains(Roles.AgencyInspector))
            return $"{person.Id} is the agency's inspector, and device {device.Id} is not the agency's";
        if (fact is RecordCorrected { SecondApprover: not null } or RecordWithdrawn { SecondApprover: not null })
            return "a second approval is given signed on, with the approver's PIN, not from a station";
        return WhoMay.Records(type, person.Roles) ? WhoMay.NotDecidedSo(fact, person) : $"{person.Id} does not have the role {string.Join(" or ", type.Roles)}";
    }

    private static void CheckIdentities(CloudEvent sent, IFact fact)
    {
        var names = Core.Dossiers.Links.OfRecord(fact, sent, sent.RecordId).SelectMany(l => new[] { l.From, l.To }).Append(fact.About).Where(s => s.Key is not null).Select(s => ("data", s.Key))
            .Concat([("id", sent.Id), ("source", sent.Source), ("person", sent.Person ?? "")]).Distinct();
        var problems = names.Select(n => (Field: n.Item1, Text: n.Item2, Rune: Subject.NotPrintable(n.Item2))).Where(n => n.Rune is not null)
            .Select(n => new ShapeProblem(n.Field, $"'{n.Text}' holds the character U+{n.Rune!.Value.Value:X4} '{n.Rune}': an identity is written in printable ASCII, so that no two look alike", "Write it with the letters, digits and signs of a plain keyboard.")).Take(5).ToList();
        if (problems.Count > 0) throw new FactShapeException(problems);
    }

    /// <summary>Whom an act waits for before it counts; nobody where it is a reading, or an act that its person's sign-on came with and that restates nothing.</summary>
    private static (string? Reason, WaitsFor Waits) Unproved(CloudEvent sent, IReadOnlySet<string> proved)
    {
        var type = FactCatalog.All[sent.Type];
        if (type.Kind != FactKind.Act) return (null, WaitsFor.Administrator);
        var person = sent.Person!;
        if (!proved.Contains(person)) return ($"It is an act of {person}, and nothing came with it that proves {person}: the station's key is enough for readings only. It counts when {person} confirms it with the PIN.", WaitsFor.Person);
        return Restating.Restates(type) ? (Restating.Reason, WaitsFor.Weighing) : (null, WaitsFor.Administrator);
    }

    private static Receipt Answer(CloudEvent sent, EntryStatus status) =>
        new() { Id = sent.Id, Source = sent.Source, RecordId = sent.RecordId, ContentHash = sent.ContentHash, Status = status };

    // A refused entry is named by whatever id and source can still be read from it.
    private static Receipt Refused(ReadOnlySpan<byte> json, ProblemDetails problem)
    {
        string? id = null, source = null;
        try
        {
            using var document = JsonDocument.Parse(json.ToArray());
            if (document.RootElement.ValueKind == JsonValueKind.Object)
            {
                id = document.RootElement.TryGetProperty("id", out var i) && i.ValueKind == JsonValueKind.String ? i.GetString() : null;
                source = document.RootElement.TryGetProperty("source", out var s) && s.ValueKind == JsonValueKind.String ? s.GetString() : null;
            }
        }
        catch (Exception e) when (e is JsonException or InvalidOperationException)
        {
            // Not even JSON, or half a surrogate in its name: it has none that could be told.
        }

        return new() { Id = id, Source = source, Status = EntryStatus.Refused, Problem = problem };
    }
}

public static class IntakeEndpoints
{
    /// <summary>Largest accepted request, bytes.</summary>
    public const int LargestRequest = 8 * 1024 * 1024;

    /// <summary>Most events in one batch.</summary>
    public const int LargestBatch = 2000;

    public const string Single = "application/cloudevents+json";
    public const string Batch = "application/cloudevents-batch+json";

    /// <summary>The two, in words.</summary>
    public const string Types = $"{Single} for one fact or {Batch} for an array of them";

    /// <summary>Where facts are posted.</summary>
    public const string Path = "/v1/facts";

    public static void MapIntake(this IEndpointRouteBuilder app)
    {
        app.MapPost(Path, PostAsync).WithMetadata(new RequestSizeLimitAttribute(LargestRequest + 1024)).RequireAuthorization(Access.Device).WithTags("Facts")
            .WithSummary("Take in one fact or a batch of facts")
            .WithDescription($"CloudEvents 1.0 in JSON: {Single} for one, {Batch} for an array. Each entry is judged for its shape on its own and has its own receipt. "
                + "The same fact again gives the same receipt; send again whenever there was no answer. "
                + $"A station's key is enough for readings. An act counts at once only with its person's sign-on in {SignOnTokens.Header}; else it is kept as a claim until that person confirms it.")
            .Accepts<JsonElement>(Single, Batch).Produces<IReadOnlyList<Receipt>>().ProducesProblem(401).ProducesProblem(409).ProducesProblem(413).ProducesProblem(415).ProducesProblem(422).ProducesProblem(429).ProducesProblem(503);
        app.MapPost("/v1/receipts", ReceiptsAsync).RequireAuthorization(Access.Receipts).WithTags("Facts")
            .WithSummary("What became of facts that were sent").Produces<IReadOnlyList<Receipt>>();
        app.MapGet("/v1/time", (TimeProvider clock) => new { now = clock.GetUtcNow() }).AllowAnonymous().WithTags("Facts").WithSummary("The service's clock, for stations to measure their offset");
    }

    private static async Task<IResult> PostAsync(HttpContext http, FactIntake intake, SignOnTokens tokens, DeviceLimits limits, SecurityLog log, CancellationToken cancel)
    {
        var device = http.User.PersonId();
        using var turn = await limits.TurnAsync(device, cancel);
        if (!turn.IsAcquired) return DeviceLimits.Refuse(http, device, TimeSpan.FromSeconds(1));
        var type = http.Request.ContentType?.Split(';')[0].Trim();
        if (type is not (Single or Batch))
            return Problems.Result(FailureInWords.MediaType(http.Request));
        using var body = new MemoryStream();
        await http.Request.Body.CopyToAsync(body, cancel);
        if (body.Length > LargestRequest)
            return Problems.Result(Problems.Of(413, "too-large", "The request is too large", $"A request holds at most {LargestRequest} bytes, this one {body.Length}. Split the batch."));
        var bytes = body.GetBuffer().AsMemory(0, (int)body.Length);

        List<ReadOnlyMemory<byte>> events;
        try
        {
            events = type == Single ? [bytes] : Split(bytes);
        }
        catch (JsonException e)
        {
            return Problems.Result(Problems.Of(400, "not-json", "The body is not JSON", e.Message + " Send valid JSON; nothing of this request was taken in."));
        }
        catch (FactShapeException e)
        {
            return Problems.Result(Problems.Shape(e.Problems));
        }

        if (limits.Take(device, events.Count) is { } wait) return DeviceLimits.Refuse(http, device, wait);
        IReadOnlyList<Receipt> receipts;
        try
        {
            receipts = await intake.TakeAsync(events, http.User, tokens.Proved(http.Request.Headers[SignOnTokens.Header], http.User.PersonId()), cancel);
        }
        catch (HandoverException e)
        {
            http.Response.Headers.RetryAfter = "2";
            return Problems.Result(Problems.Of(503, "not-safe-yet", "The facts are not safe yet", e.Message));
        }

        if (receipts.Count(r => r.Status == EntryStatus.Refused) is > 0 and var refused) log.Unread(device, refused);
        if (type == Batch) return Results.Json(receipts);
        var receipt = receipts[0];
        return receipt.Status switch
        {
            EntryStatus.Refused => Problems.Result(receipt.Problem!),
            EntryStatus.Conflict => Results.Json(receipt, statusCode: 409),
            EntryStatus.Recorded => Results.Json(receipt, statusCode: 201),
            EntryStatus.Duplicate => Results.Json(receipt, statusCode: 200),
            _ => Results.Json(receipt, statusCode: 202),
        };
    }

    private static List<ReadOnlyMemory<byte>> Split(ReadOnlyMemory<byte> body)
    {
        // Deeper than any entry may be: which one nests too deep is said of that one alone.
        using var document = JsonDocument.Parse(body, new JsonDocumentOptions { MaxDepth = 4 * CanonicalJson.MaxDepth });
        if (document.RootElement.ValueKind != JsonValueKind.Array)
            throw new FactShapeException([new("body", "must be a JSON array of events", $"Send one event as {Single}.")]);
        var count = document.RootElement.GetArrayLength();
        if (count is 0 or > LargestBatch)
            throw new FactShapeException([new("body", $"must hold 1 to {LargestBatch} events, it holds {count}", "Split the batch.")]);
        // Byte for byte: which of them is not even UTF-8 is said of that one alone.
        return [.. document.RootElement.EnumerateArray().Select(e => (ReadOnlyMemory<byte>)JsonMarshal.GetRawUtf8Value(e).ToArray())];
    }

    public sealed record SentFact(string Source, string Id);

    private static async Task<IResult> ReceiptsAsync(IReadOnlyList<SentFact?> sent, Receipts receipts, CancellationToken cancel)
    {
        if (sent.Count > LargestBatch) return Problems.Result(Problems.Shape([new("body", $"must name at most {LargestBatch} facts", "Ask in parts.")]));
        for (var i = 0; i < sent.Count; i++)
        {
            if (sent[i] is not { Source.Length: > 0 and <= CloudEvent.LongestAttribute, Id.Length: > 0 and <= CloudEvent.LongestAttribute })
                return Problems.Result(Problems.Shape([new($"[{i}]", $"must name a source and an id of 1 to {CloudEvent.LongestAttribute} characters", "Write it as the fact was sent: {\"source\":\"...\",\"id\":\"...\"}.")]));
        }

        return Results.Json(await receipts.OfAsync(sent!, cancel));
    }
}
