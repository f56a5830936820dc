using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using Traceability.Core.Records;
using Traceability.Service.Log;

namespace Traceability.Service.Packets;

/// <summary>One unit as the pages read it.</summary>
/// <param name="Judgement">By the contract's limits alone. The plant's own tighter ones are its own affair.</param>
/// <param name="InPlant">Hash of the judgement by all limits, which the unit's page in the plant shows.</param>
internal sealed record UnitMatter(string Id, UnitFile File, Judgement Judgement, string InPlant, IReadOnlyList<Record> Records)
{
    public string? Product => File.Drawing?.Fact.Product;

    /// <summary>What of a dossier bears on its unit, counted or set aside, with whatever changes it.</summary>
    public static IReadOnlyList<Record> RecordsOf(Dossier dossier, UnitFile file)
    {
        var kept = file.Entries.SelectMany(e => new[] { e.Original, e.Source }).Concat(file.SetAside.Select(s => s.Record)).DistinctBy(r => r.Id).ToDictionary(r => r.Id);
        // Whoever assembles these records again must come to the same file, so what changes one of them goes along.
        foreach (var change in dossier.Records)
        {
            if (change.Fact is RecordCorrected c && kept.ContainsKey(c.Record)) kept.TryAdd(change.Id, change);
            else if (change.Fact is RecordWithdrawn w && kept.ContainsKey(w.Record)) kept.TryAdd(change.Id, change);
        }

        return [.. kept.Values];
    }
}

/// <summary>What a packet states, gathered and checked once, before any page is laid out.</summary>
internal sealed class PacketMatter
{
    private readonly Dictionary<Guid, int> _lines;
    private readonly Dictionary<Guid, InclusionProof> _proofs;
    private readonly IReadOnlyDictionary<string, string> _names;

    public PacketMatter(PacketRequest request)
    {
        Request = request;
        _names = request.Names ?? new Dictionary<string, string>();
        var problems = new List<PacketProblem>();
        Checkpoint = Check(request, problems);
        Units = [.. request.Units.Select(u => Unit(u, problems))];
        Contract = OneContract(Units, problems);
        Template = request.Template ?? PacketTemplate.For(Contract?.Fact.Agency ?? "");
        Records = [.. Units.SelectMany(u => u.Records).Concat(request.Enrolments ?? []).DistinctBy(r => r.Id).OrderBy(r => r.Position).ThenBy(r => r.Id)];
        _lines = Records.Select((r, i) => (r.Id, i)).ToDictionary(x => x.Id, x => x.i + 1);
        _proofs = request.Proofs.DistinctBy(p => p.RecordId).ToDictionary(p => p.RecordId);
        CheckProofs(problems);
        CheckMoment(problems);
        if (!request.Draft) problems.AddRange(UnconfirmedLimits(Units));
        if (problems.Count > 0) throw new PacketRefusedException(problems);
    }

    public PacketRequest Request { get; }

    public Checkpoint Checkpoint { get; }

    public PacketTemplate Template { get; }

    public IReadOnlyList<UnitMatter> Units { get; }

    /// <summary>When a record says that it happened, by the plant's clock.</summary>
    public DateTimeOffset Happened(Record record) => Units[0].File.Time.Local(record.OccurredAt.At);

    /// <summary>Every record the packet rests on, by position: the lines of records.jsonl.</summary>
    public IReadOnlyList<Record> Records { get; }

    public Entry<ContractOpened>? Contract { get; }

    public string ContractId => Contract?.Fact.Contract ?? Units[0].File.Assigned?.Contract ?? "not recorded";

    public InclusionProof Proof(Guid record) => _proofs[record];

    public IReadOnlyList<InclusionProof> Proofs => [.. Records.Select(r => _proofs[r.Id])];

    /// <summary>Line of a record in records.jsonl, from 1.</summary>
    public int Line(Guid record) => _lines[record];

    /// <summary>A person by id; with the name where the register gives one for packets.</summary>
    public string Person(string? id) => id is null ? "not named" : _names.TryGetValue(id, out var name) ? $"{name} ({id})" : id;

    /// <summary>Findings that are not settled, over all units.</summary>
    public IEnumerable<(UnitMatter Unit, Finding Finding)> Open =>
        from unit in Units from finding in unit.Judgement.Findings where IsOpen(finding) select (unit, finding);

    /// <summary>Findings settled by a letter or a waiver, and those met on figures that a later result can still change.</summary>
    public IEnumerable<(UnitMatter Unit, Finding Finding)> Exceptions =>
        from unit in Units
        from finding in unit.Judgement.Findings
        where IsException(finding)
        select (unit, finding);

    /// <summary>Holds of steps that were taken, and not on a release that came first, or one that later evidence contradicts.</summary>
    public IEnumerable<(UnitMatter Unit, Hold Hold)> Breaches =>
        from unit in Units
        from hold in unit.Judgement.Holds
        where IsBreach(hold)
        select (unit, hold);

    public static bool IsBreach(Hold hold) =>
        hold.State is HoldState.PassedWithoutRelease or HoldState.CannotTell or HoldState.Overridden || hold.Contradicted || hold.Breach;

    /// <summary>What is to be said of such a hold, in a sentence.</summary>
    public static string Statement(Hold hold) =>
        hold.Cause ?? (hold.Contradicted ? "Later evidence contradicts the release." : "The step was not taken on a release that came before it.");

    public static IEnumerable<SetAside> Conflicts(UnitMatter unit) =>
        unit.File.SetAside.Where(s => s.Kind is SetAsideKind.Conflict or SetAsideKind.Unreadable);

    public bool AllSettled => !Open.Any() && !Breaches.Any() && !Units.Any(u => Conflicts(u).Any());

    /// <summary>Whether a finding is about the documents themselves: this one is what it waits for.</summary>
    public static bool IsOfDocuments(Finding finding) => finding.Requirement is "ship.documents" or "acceptance.supplements";

    public static bool IsOpen(Finding finding) => !finding.Allows && !IsOfDocuments(finding);

    /// <summary>The clause under which a unit may be shipped while this finding is pending; null when none allows it.</summary>
    public string? PendingAllowedBy(Finding finding) => Template.PendingAllowedBy(finding);

    /// <summary>Results that are still to come and may come after shipment.</summary>
    public IEnumerable<(UnitMatter Unit, Finding Finding)> Pending => Open.Where(o => PendingAllowedBy(o.Finding) is not null);

    public IReadOnlyList<PendingItem> PendingItems => [.. Pending.Select(p => new PendingItem(p.Unit.Id, p.Finding.Requirement, Short(p.Finding.Subject)))];

    private static string Short(string text) => text.Length <= 200 ? text : text[..200];

    /// <summary>Of what an earlier packet said is to come: what has come since, with any result.</summary>
    public IReadOnlyList<PendingItem> Answered =>
        Request.Supplements is not { } earlier ? [] : [.. earlier.Pending.Where(p =>
            Units.FirstOrDefault(u => u.Id == p.Unit) is not { } unit || !unit.Judgement.Findings.Any(f => f.Verdict == Verdict.Pending && f.Requirement == p.Requirement && Short(f.Subject) == p.Subject))];

    /// <summary>Allowed, and not simply met: a certificate has to name it.</summary>
    public static bool IsException(Finding finding) =>
        finding.Allows && finding.Verdict is not (Verdict.Met or Verdict.NotApplicable);

    /// <summary>The profile's limits a finding was judged by: those its requirement asks for that stand in the cited place.</summary>
    public static IReadOnlyList<Limit> LimitsOf(UnitMatter unit, Finding finding)
    {
        if (finding.Limit.Length == 0) return [];
        var asked = Rules.All.FirstOrDefault(r => r.Id == finding.Requirement)?.Limits ?? [];
        var cited = (unit.File.Profile?.Fact.Limits ?? []).Where(l => l.Source == finding.Source).ToList();
        var printed = cited.Where(l => l.Printed == finding.Limit).ToList();
        // The key a requirement asks for may be the beginning of the limit's: one for a size, a grade or a product.
        return printed.Count > 0 ? printed : [.. cited.Where(l => asked.Any(a => l.Key.StartsWith(a.Split('<')[0], StringComparison.Ordinal)))];
    }

    /// <summary>
    /// Confirmed is: somebody read it on a named page on a day, or an approved document whose record is in the packet states it.
    /// </summary>
    public static bool IsConfirmed(UnitMatter unit, Finding finding) =>
        finding.Source.Mark == SourceMark.Recorded || (LimitsOf(unit, finding) is { Count: > 0 } limits ? limits.All(l => Confirmed(unit, l) is not null) : finding.LimitConfirmed || IsPractice(unit, finding));

    /// <summary>Whether what a finding was held against is practice of the trade in words: no document states it, so there is no page to read.</summary>
    public static bool IsPractice(UnitMatter unit, Finding finding) => finding.Source.Mark == SourceMark.CommonPractice && LimitsOf(unit, finding).Count == 0;

    /// <summary>When and on which page somebody read a limit: as the profile states it, or recorded since; null when nobody did.</summary>
    public static (DateOnly On, string Page)? Confirmed(UnitMatter unit, Limit limit)
    {
        if (limit is { ConfirmedBy: not null, ConfirmedOn: { } on, ConfirmedPage: { } page }) return (on, page);
        var profile = unit.File.Profile?.Fact;
        return unit.File.Of<ProfileConfirmed>().LastOrDefault(c => c.Fact.Profile == profile?.Profile && c.Fact.Version == profile.Version && c.Fact.Key == limit.Key) is { } read
            ? (read.Fact.ConfirmedOn, read.Fact.Page) : null;
    }

    private static Checkpoint Check(PacketRequest request, List<PacketProblem> problems)
    {
        if (request.Units.Count == 0) throw new PacketRefusedException([new("units", "must name at least one unit", "Name the units by their serials.")]);
        foreach (var twice in request.Units.GroupBy(u => u.Dossier.Unit).Where(g => g.Count() > 1))
            problems.Add(new("units", $"names {twice.Key.Id} {twice.Count()} times", "Name every unit once."));
        if (request.Packet.Length is 0 or > 60 || request.Packet.Any(c => !(char.IsAsciiLetterOrDigit(c) || c is '.' or '-')))
            problems.Add(new("packet", "must be 1 to 60 letters, digits, dots and hyphens", "Choose another packet number."));
        return Checkpoint.Open(request.CheckpointNote, request.LogPublicKey)
            ?? throw new PacketRefusedException([new("checkpoint", "is not signed by the log's key", "Ask for the newest checkpoint of the log and try again.")]);
    }

    private UnitMatter Unit(PacketUnit unit, List<PacketProblem> problems)
    {
        var id = unit.Dossier.Unit.Id;
        if (unit.Judgement.Unit != unit.Dossier.Unit)
            problems.Add(new("units", $"the judgement of {unit.Judgement.Unit.Id} was given for {id}", "Judge the unit's own dossier."));
        var file = Assemble.Unit(unit.Dossier);
        if (file.Scheduled is null)
            problems.Add(new("units", $"{id} was never scheduled: no record says which drawing and contract it belongs to", "Record unit.scheduled, or correct the serial."));
        return new UnitMatter(id, file, Judge.ByContract(file, Request.IssuedAt), unit.Judgement.Hash, UnitMatter.RecordsOf(unit.Dossier, file));
    }

    /// <summary>The contract that all units belong to; null, and a problem, where there is none or more than one.</summary>
    public static Entry<ContractOpened>? OneContract(IReadOnlyList<UnitMatter> units, List<PacketProblem> problems)
    {
        var contracts = units.Where(u => u.File.Assigned is not null).Select(u => u.File.Assigned!.Value.Contract).Distinct(StringComparer.Ordinal).ToList();
        if (contracts.Count > 1)
            problems.Add(new("units", $"belong to {contracts.Count} contracts: {string.Join(", ", contracts)}", "Issue one document per contract; none shows another contract's units."));
        var contract = units.Select(u => u.File.Contract).FirstOrDefault(c => c is not null);
        if (contract is null)
            problems.Add(new("units", contracts.Count > 0 ? $"contract {contracts[0]} is not recorded" : "belong to no contract", contracts.Count > 0 ? "Record contract.opened with the profile it adopted." : "Allocate stock units to a contract first."));
        return contract;
    }

    private void CheckProofs(List<PacketProblem> problems)
    {
        var without = Records.Where(r => !_proofs.ContainsKey(r.Id)).ToList();
        if (without.Count > 0)
            problems.Add(new("proofs", $"{without.Count} of {Records.Count} records are not sealed yet, the first is {without[0].Id}", "Wait until the log's signer has sealed them and try again."));
        foreach (var record in Records.Except(without))
        {
            var proof = _proofs[record.Id];
            if (!Record.LeafHash(record.Bytes.Span).AsSpan().SequenceEqual(proof.LeafHash)
                || !Merkle.VerifyInclusion(proof.Index, Checkpoint.Size, proof.LeafHash, proof.Path, Checkpoint.Root))
                problems.Add(new("proofs", $"record {record.Id} does not lead to the signed root", "The stored bytes differ from what was sealed. Stop and have the administrator check the log."));
        }
    }

    // A packet signed before its last evidence would state what nobody could know.
    private void CheckMoment(List<PacketProblem> problems)
    {
        var last = Records.Count == 0 ? default : Records.Max(Happened);
        if (Request.IssuedAt < last)
            problems.Add(new("issuedAt", $"is before the last record, of {last:yyyy-MM-dd HH:mm:ss zzz}", "Issue the packet after its last evidence; check the clock of the station that sent it."));
    }

    /// <summary>The limits that units were judged by and that nobody compared with a page of their document.</summary>
    public static IReadOnlyList<PacketProblem> UnconfirmedLimits(IReadOnlyList<UnitMatter> units)
    {
        var problems = new List<PacketProblem>();
        foreach (var (unit, finding) in units.SelectMany(u => u.Judgement.Findings.Where(f => f.Limit.Length > 0).Select(f => (u, f))))
        {
            if (IsConfirmed(unit, finding)) continue;
            var doubtful = LimitsOf(unit, finding).Where(l => Confirmed(unit, l) is null).ToList();
            problems.AddRange(doubtful.Select(l => new PacketProblem($"limit {l.Key}",
                $"\"{l.Printed}\" of {Cited(l.Source)} is not confirmed against a page of that document", Confirm)));
            if (doubtful.Count == 0)
                problems.Add(new($"requirement {finding.Requirement}", $"its limit of {Cited(finding.Source)} is not confirmed against a page of that document", Confirm));
        }

        return [.. problems.Distinct()];
    }

    private const string Confirm =
        "The quality engineer reads the page and publishes the profile with who confirmed it, when and which page; or issue a draft for the plant's own review.";

    public static string Cited(Citation source) => string.Join(", ", new[] { source.Document, source.Edition, source.Clause }.Where(s => s is not null));
}
