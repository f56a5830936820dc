using Microsoft.AspNetCore.Mvc;
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

/// <summary>What came of a decision: an answer, or the problem for which nothing was recorded.</summary>
public sealed record Decided(object? Answer, ProblemDetails? Problem)
{
    /// <summary>What stands in the way, where that is why.</summary>
    public IReadOnlyList<OpenItem> OpenItems { get; init; } = [];

    public static Decided Refused(int status, string type, string title, string detail, params (string Key, object? Value)[] more) => new(null, Problems.Of(status, type, title, detail + " Nothing was recorded.", more));

    public static Decided Wrong(string field, string limit, string remedy) => new(null, Wording(field, limit, remedy));

    public static ProblemDetails Wording(string field, string limit, string remedy) =>
        Problems.Of(422, "decision", "This cannot be decided so", $"{field}: {limit}. {remedy} Nothing was recorded.", ("errors", new[] { new { field, limit, remedy } }));

    public IResult Result() => Problem is { } problem ? Problems.Result(problem) : Results.Json(Answer, FactJson.Options, statusCode: 201);
}

/// <summary>A unit judged for a decision.</summary>
public sealed record JudgedUnit(Dossier Dossier, UnitFile File, Judgement Judgement)
{
    public Hold? Hold(HoldKind kind) => Judgement.Holds.FirstOrDefault(h => h.Kind == kind);

    public bool IsKnown => File.Entries.Count > 0 || File.SetAside.Count > 0;

    /// <summary>The profile's rule of a hold; null when it has none.</summary>
    public HoldRule? Rule(HoldKind kind) => File.Profile?.Fact.Holds?.Where(h => h.Hold == kind).MaxBy(h => h.Authority);
}

/// <summary>
/// One decision in the making: everything it reads and writes lies in the one writing transaction, so that no record can come
/// between the judgement and the decision that rests on it. What bears on many units is rehearsed before, on a snapshot: then it writes nothing, and
/// the sitting that writes takes each judgement from there, as long as nothing came that bears on it.
/// </summary>
public sealed class Sitting
{
    private readonly Writing? _writing;
    private readonly Foreseen? _foreseen;
    private readonly PlantTime _time;
    private readonly DateTimeOffset _now;
    private readonly string _person, _assurance;
    private readonly List<Record> _own = [];
    private readonly List<string> _wrote = [];

    /// <summary>One that judges inside the writing transaction: for what bears on one unit.</summary>
    /// <param name="now">In the plant's time, so that a record's day is the plant's.</param>
    internal Sitting(Writing writing, PlantTime time, DateTimeOffset now, string person, string assurance) : this(writing.Connection, writing, null, time, now, person, assurance)
    {
    }

    /// <param name="writing">Null while it is rehearsed.</param>
    internal Sitting(NpgsqlConnection connection, Writing? writing, Foreseen? foreseen, PlantTime time, DateTimeOffset now, string person, string assurance)
    {
        (Connection, _writing, _foreseen, _time, _now, _person, _assurance) = (connection, writing, foreseen, time, now, person, assurance);
    }

    public NpgsqlConnection Connection { get; }

    public PlantTime Time => _time;

    public DateTimeOffset Now => _now;

    public string Person => _person;

    /// <summary>The day at the plant.</summary>
    public DateOnly Day => DateOnly.FromDateTime(_now.DateTime);

    /// <summary>Judges a unit on every record there is, those of this sitting included, or as known at a position, each hashed anew.</summary>
    /// <exception cref="RecordChangedException">The stored bytes of one are not the ones that were recorded.</exception>
    public async Task<JudgedUnit> JudgeAsync(Subject unit, CancellationToken cancel, long? position = null)
    {
        if (_foreseen is not null) return await ForeseeAsync(_foreseen, unit, position, position is null ? _own : [], cancel);
        _writing!.Judged();
        return Judged(await DossierStore.LoadAsRecordedAsync(Connection, _time, unit, position, cancel));
    }

    /// <summary>Judges a unit without what this sitting wrote: only where it was rehearsed.</summary>
    /// <exception cref="RecordChangedException">The stored bytes of one are not the ones that were recorded.</exception>
    internal Task<JudgedUnit> JudgeBeforeAsync(Subject unit, CancellationToken cancel) => ForeseeAsync(_foreseen!, unit, null, [], cancel);

    private async Task<JudgedUnit> ForeseeAsync(Foreseen foreseen, Subject unit, long? past, IReadOnlyList<Record> own, CancellationToken cancel)
    {
        var drafts = string.Join(' ', own.Select(r => $"{r.Id:N}{r.Sent.ContentHash}"));
        if (foreseen.Find(unit, past, drafts) is { } seen) return seen;
        // Inside nobody judges: everybody waits. It was not judged outside, or something came since.
        if (_writing is not null) throw new ChangedMeanwhileException();
        var (dossier, bearing) = await DossierStore.ForeseeAsync(Connection, _time, unit, past ?? foreseen.Position, own, cancel);
        var judged = Judged(dossier);
        foreseen.Keep(judged, past, drafts, past is null ? bearing : null);
        return judged;
    }

    private JudgedUnit Judged(Dossier dossier)
    {
        using var span = Telemetry.Source.StartActivity("judge");
        span?.SetTag(Telemetry.Unit, dossier.Unit.Id);
        var file = Assemble.Unit(dossier);
        return new(dossier, file, Judge.Unit(file, _now));
    }

    /// <summary>The units above these records and above what this sitting wrote.</summary>
    internal Task<IReadOnlyList<Subject>> AboveAsync(long[] positions, int most, CancellationToken cancel) =>
        AffectedUnits.AboveAsync(Connection, positions, most, cancel, [.. _own.SelectMany(r => r.Links()).Where(l => l.Kind == LinkKind.About).Select(l => l.From.Key).Distinct(StringComparer.Ordinal)]);

    /// <summary>Keeps a judgement by its hash, and says what a decision that rests on it writes down.</summary>
    public async Task<DecisionBasis> RestOnAsync(JudgedUnit unit, CancellationToken cancel)
    {
        if (_writing is null) return new(unit.Dossier.Position, unit.Judgement.Hash, unit.Judgement.RulesVersion);
        await using var keep = new NpgsqlCommand("insert into trace.judgement (hash, bytes) values ($1, $2) on conflict do nothing", Connection)
        { Parameters = { new() { Value = unit.Judgement.Hash }, new() { Value = unit.Judgement.Bytes } } };
        await keep.ExecuteNonQueryAsync(cancel);
        return new(unit.Dossier.Position, unit.Judgement.Hash, unit.Judgement.RulesVersion);
    }

    /// <summary>Writes the fact of the decision, by its person, signed with the PIN at this moment.</summary>
    /// <exception cref="FactShapeException">The content does not have the shape of its type.</exception>
    public Task<Outcome> WriteAsync(IFact fact, CancellationToken cancel)
    {
        var (entry, sent) = OwnFacts.Of(fact, _foreseen?.Event(_wrote.Count) ?? Guid.CreateVersion7(_now), _now, _person, "pin", _assurance);
        _wrote.Add(FactCatalog.Of(fact).Name);
        return AddAsync(entry, sent, cancel);
    }

    /// <summary>Adds a fact that came from outside; in a rehearsal it is judged as if it came next, and not written.</summary>
    internal async Task<Outcome> AddAsync(Received entry, CloudEvent sent, CancellationToken cancel)
    {
        var outcome = _writing is not null ? (await _writing.AddAsync([(entry, sent)], cancel))[0] : await Writing.ForeseeAsync(Connection, entry, sent, _foreseen!.Position + _own.Count + 1, cancel);
        if (outcome is { Status: EntryStatus.Recorded or EntryStatus.Conflict, Position: { } position } && !_own.Exists(r => r.Id == outcome.RecordId))
            _own.Add(Record.Read(Record.Write(sent, outcome.RecordId, entry.Device, entry.Assurance, entry.ReceivedAt, _writing?.RecordedAt ?? _now), position));
        return outcome;
    }

    /// <summary>Marks what was set apart under a fact's id and content as settled.</summary>
    internal Task SettleAsync(CloudEvent sent, string by, CancellationToken cancel) => _writing is null ? Task.CompletedTask : _writing.SettleAsync(sent, by, cancel);

    /// <summary>Names of the facts it wrote.</summary>
    public IReadOnlyList<string> Wrote => _wrote;
}

/// <summary>What a decision rests on, as its answer says it.</summary>
public sealed record RestsOn(long Position, string Judgement, string Rules)
{
    public static RestsOn Of(DecisionBasis basis) => new(basis.Position, basis.JudgementHash, basis.Rules);
}

/// <summary>A second person's approval, signed at this moment.</summary>
public sealed record Approval(string? By, string? Pin);

/// <summary>Where decisions are taken: signed with the PIN, judged now, stored with what they rest on, or refused with the reason.</summary>
public sealed partial class DecisionRoom(Recorder recorder, Rehearsal rehearsal, Signing signing, Register register, TimeProvider clock, PlantTime time, SecurityLog security, ILogger<DecisionRoom> log, ScenarioClock? scenario = null)
{
    /// <summary>Takes a decision. What it wrote stays only when it answers without a problem.</summary>
    /// <param name="second">The second approver, where one signs: another person, allowed to, with an own PIN at this moment.</param>
    /// <param name="rehearsed">Whether it may bear on many units: judged before anybody waits, and not inside.</param>
    public async Task<Decided> SitAsync(string person, string? pin, Func<Sitting, Task<Decided>> decide, CancellationToken cancel, Approval? second = null, bool rehearsed = false)
    {
        Sitting? sat = null;
        var decided = await TakeAsync(person, pin, sitting => decide(sat = sitting), cancel, second, rehearsed);
        security.Decided(person, sat is null ? "not begun" : string.Join(", ", sat.Wrote), decided.Problem?.Type);
        return decided;
    }

    private async Task<Decided> TakeAsync(string person, string? pin, Func<Sitting, Task<Decided>> decide, CancellationToken cancel, Approval? second, bool rehearsed)
    {
        // Before the transaction, which every other writer waits for.
        if (signing.Pin(person, pin).Problem is { } unsigned) return new(null, unsigned);
        if (second is not null && Refusal(person, second) is { } unapproved) return new(null, unapproved);
        try
        {
            var assurance = "service" + (scenario is null ? "" : ", scenario clock");
            if (rehearsed)
                return await rehearsal.DecideAsync(decide, d => d.Problem is null, person, assurance, cancel)
                    ?? Decided.Refused(409, "keeps-changing", "Records keep arriving", "Records that bear on the same units came each time this was judged. Wait until the stations have sent what they hold, and try again.");

            await using var writing = await recorder.BeginAsync(cancel);
            var decided = await decide(new Sitting(writing, time, time.Local(clock.GetUtcNow()), person, assurance));
            if (decided.Problem is null) await writing.CommitAsync(cancel);
            return decided;
        }
        catch (FactShapeException e)
        {
            return new(null, Problems.Shape(e.Problems));
        }
        catch (RecordChangedException e)
        {
            LogChanged(log, e.Record.Position, e.Record.Type);
            var at = time.Local(e.Record.RecordedAt);
            return Decided.Refused(409, "record-changed", "A record was changed in the database",
                string.Create(System.Globalization.CultureInfo.InvariantCulture, $"The record of {at:yyyy-MM-dd HH:mm:ss}, {Pages.Words.OfType(e.Record.Type)}, is not as it was recorded. Nothing is decided on it. Call the administrator: restore it from the backup."),
                ("record", e.Record.Id), ("position", e.Record.Position));
        }
    }

    private ProblemDetails? Refusal(string person, Approval approval)
    {
        var second = approval.By;
        if (string.IsNullOrWhiteSpace(second)) return Decided.Wording("secondApprover", "must be there", "A second person approves, who is not of production, with a PIN at this moment.");
        if (second == person) return Decided.Wording("secondApprover", "must be another person", "Nobody approves an own decision.");
        // Whoever is not in the register gets the answer of a wrong PIN, so that ids cannot be asked out.
        if (register.Person(second) is { } known && !WhoMay.ApprovesSecond(known.Roles)) return WhoMay.NotSecond(known);
        return signing.Pin(second, approval.Pin, asker: person).Problem;
    }

    [LoggerMessage(LogLevel.Critical, "No decision is taken on the record at position {Position}, {FactType}: its stored bytes are not the ones that were recorded")]
    private static partial void LogChanged(ILogger logger, long position, string factType);
}
