using System.Security.Cryptography;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Records;
using Traceability.Service.Linking;
using Traceability.Service.Operations;
using Traceability.Service.Packets.Pages;
using Traceability.Service.Recording;

namespace Traceability.Service.Packets;

/// <summary>
/// Issues the certificate that goes with a truck: every unit judged and the sheet laid out, then recorded in a short
/// transaction in which nothing of the load may have come since; else it is made anew. What would make the signed words untrue
/// refuses it.
/// </summary>
public sealed class LoadCertificates(DossierStore dossiers, Recorder recorder, PacketStore store, TimeProvider clock, PlantTime time, IConfiguration configuration, ScenarioClock? scenario = null)
{
    // Records that keep arriving would keep it waiting for ever.
    private const int Tries = 10;

    /// <summary>Names of the two wordings.</summary>
    public const string Complete = "complete", WithExceptions = "withExceptions";

    /// <param name="units">Units it is for; null for all units of the delivery.</param>
    /// <param name="wording">The wording the engineer means to sign; null for the one that applies.</param>
    /// <exception cref="PacketRefusedException">Something stops it; names each and what to do.</exception>
    public async Task<IssuedCertificate> IssueAsync(string delivery, IReadOnlyList<string>? units, string? wording, string person, CancellationToken cancel)
    {
        for (var i = 0; i < Tries; i++)
        {
            if (await TryAsync(delivery, units, wording, person, cancel) is { } issued) return issued;
        }

        throw new PacketRefusedException([new("units", "records of this load keep arriving while the certificate is made", "Wait until the stations have sent what they hold and try again.")]);
    }

    /// <returns>Null when records of the load, or another certificate of it, came while it was made.</returns>
    private async Task<IssuedCertificate?> TryAsync(string delivery, IReadOnlyList<string>? units, string? wording, string person, CancellationToken cancel)
    {
        var position = await dossiers.NewestAsync(cancel);
        var subject = Subject.Delivery(delivery);
        var ofDelivery = await PacketDesk.AsRecordedAsync(dossiers, subject, position, cancel);
        if (Assemble.Counted(ofDelivery.Records, time).LastOrDefault(e => e.Fact is DeliveryLoaded && e.Fact.About == subject)?.Fact is not DeliveryLoaded load)
            throw new PacketRefusedException([new("delivery", $"no record says what was loaded for {delivery}", "Shipping records the load; then issue its certificate.")]);
        if (units?.FirstOrDefault(u => !load.Units.Contains(u)) is { } other)
            throw new PacketRefusedException([new("units", $"{other} was not loaded for {delivery}", "Name units of the load, or correct its record.")]);

        var ofUnits = new List<Dossier>();
        foreach (var unit in units ?? load.Units) ofUnits.Add(await PacketDesk.AsRecordedAsync(dossiers, Subject.Unit(unit), position, cancel));
        var now = time.Local(clock.GetUtcNow());
        var id = Guid.CreateVersion7(now);
        var number = await store.CertificateCountAsync(delivery, cancel) + 1;
        var record = SignedDecision.RecordOf(id);
        (byte[] Pdf, string Contract, int Exceptions) made;
        using (Telemetry.Source.StartActivity(Telemetry.LayingOut)) made = Make(new(configuration["Plant:Name"] ?? "The plant", delivery, load.Truck, number, ofUnits, now, person, record, wording));
        var hash = Convert.ToHexStringLower(SHA256.HashData(made.Pdf));
        var serials = ofUnits.Select(d => d.Unit.Id).ToList();
        var issued = new IssuedCertificate(delivery, number, now, person, made.Contract, serials, made.Exceptions, hash, record);

        await using var writing = await recorder.BeginAsync(cancel);
        if (!await DossierStore.IsUnchangedAsync(writing.Connection, [ofDelivery, .. ofUnits], cancel) || await PacketStore.CertificatesAsync(writing.Connection, delivery, cancel) != number - 1) return null;
        await SignedDecision.WriteAsync(writing, new LoadCertificateIssued(delivery, serials, hash), person, id, now, scenario, cancel);
        await PacketStore.AddAsync(writing.Connection, issued, made.Pdf, cancel);
        await writing.CommitAsync(cancel);
        return issued;
    }

    /// <summary>Checks what would be signed and lays it out. Pure.</summary>
    /// <returns>The PDF, the contract, and how many exceptions it lists.</returns>
    /// <exception cref="PacketRefusedException">Something would make the signed words untrue.</exception>
    public static (byte[] Pdf, string Contract, int Exceptions) Make(CertificateRequest request)
    {
        var matter = new CertificateMatter(request);
        return (CertificatePages.Write(matter), matter.Contract.Fact.Contract, matter.Exceptions.Count);
    }
}

/// <summary>Everything a load certificate is made from.</summary>
/// <param name="Number">Number among the delivery's certificates, from 1.</param>
/// <param name="Record">Id of the record that the signature makes.</param>
/// <param name="Wording">The wording the engineer means to sign; null for the one that applies.</param>
public sealed record CertificateRequest(
    string Plant, string Delivery, string Truck, int Number, IReadOnlyList<Dossier> Dossiers, DateTimeOffset IssuedAt, string IssuedBy, Guid Record, string? Wording = null);

/// <summary>One line of what a certificate does not certify, or not simply.</summary>
internal sealed record CertificateException(string Unit, string Item, string State, string Statement);

/// <summary>What a load certificate states, gathered and checked before it is laid out. Pure.</summary>
internal sealed class CertificateMatter
{
    /// <exception cref="PacketRefusedException">Something would make the signed words untrue.</exception>
    public CertificateMatter(CertificateRequest request)
    {
        Request = request;
        var problems = new List<PacketProblem>();
        Units = [.. request.Dossiers.Select(d =>
        {
            var file = Assemble.Unit(d);
            var judged = Judge.ByContract(file, request.IssuedAt);
            return new UnitMatter(d.Unit.Id, file, judged, judged.Hash, UnitMatter.RecordsOf(d, file));
        })];
        Contract = PacketMatter.OneContract(Units, problems) ?? throw new PacketRefusedException(problems);
        Template = PacketTemplate.For(Contract.Fact.Agency);
        CheckEvidence(problems);
        foreach (var unit in Units) CheckUnit(unit, problems);
        problems.AddRange(PacketMatter.UnconfirmedLimits(Units));
        Exceptions = [.. Units.SelectMany(ExceptionsOf)];
        if (request.Wording == LoadCertificates.Complete && Exceptions.Count > 0)
            problems.Add(new("wording", $"\"{request.Wording}\" would certify that no item is open; {Exceptions.Count} are to be listed, the first of {Exceptions[0].Unit}: {Exceptions[0].Item}, {Exceptions[0].State}", $"Ask for \"{LoadCertificates.WithExceptions}\", or leave the wording out."));
        if (request.Wording == LoadCertificates.WithExceptions && Exceptions.Count == 0)
            problems.Add(new("wording", $"\"{request.Wording}\" announces exceptions and there are none", $"Ask for \"{LoadCertificates.Complete}\", or leave the wording out."));
        if (problems.Count > 0) throw new PacketRefusedException([.. problems.Distinct()]);
    }

    public CertificateRequest Request { get; }

    public IReadOnlyList<UnitMatter> Units { get; }
    public Entry<ContractOpened> Contract { get; }
    public PacketTemplate Template { get; }

    /// <summary>What is listed as not certified, or not simply met; with none the complete wording is signed.</summary>
    public IReadOnlyList<CertificateException> Exceptions { get; }

    /// <summary>The means of the sets broken before shipment, in the words of the finding that judged them.</summary>
    public static string StrengthAtShipment(UnitMatter unit)
    {
        var findings = unit.Judgement.Findings.Where(f => f.Requirement == "ship.strength").ToList();
        var observed = findings.Select(f => f.Observed).Where(o => o.Length > 0).Distinct(StringComparer.Ordinal).ToList();
        return observed.Count > 0 ? string.Join("; ", observed) : findings.Count > 0 ? findings[0].Reason : "not judged";
    }

    private void CheckEvidence(List<PacketProblem> problems)
    {
        foreach (var unit in Units)
        {
            if (unit.Records.Where(r => r.OccurredAt.At > Request.IssuedAt).MaxBy(r => r.OccurredAt.At) is { } late)
                problems.Add(new("issuedAt", $"the signature would come before the last evidence of {unit.Id}: record {late.Id} is of {Figures.Exact(unit.File.Time.Local(late.OccurredAt.At))}", "Sign after its last evidence; check the clock of the station that sent it."));
        }
    }

    private void CheckUnit(UnitMatter unit, List<PacketProblem> problems)
    {
        if (unit.File.Scheduled is null) problems.Add(new("units", $"{unit.Id} was never scheduled", "Record unit.scheduled, or correct the serial."));
        if (unit.File.Of<UnitRejected>().Any() || unit.File.Of<AgencyRejected>().Any()) problems.Add(new("units", $"{unit.Id} was rejected", "Take it off the truck."));
        var ship = unit.Judgement.Hold(HoldKind.Ship);
        // A contract that asks for the certificate before shipping has a ship hold that waits for it, and for nothing else.
        var waitsForThis = ship.State == HoldState.Held && ship.OpenItems.All(i => unit.Judgement.Findings.Any(f => f.Requirement == i.Requirement && PacketMatter.IsOfDocuments(f))) && ship.OpenItems.Count > 0;
        if (ship.State is not (HoldState.Released or HoldState.Overridden) && !waitsForThis && (ship.NeedsRelease || ship.State != HoldState.Ready))
            problems.Add(new("units", $"the ship hold of {unit.Id} is not released: {Words.Of(ship.State)}{(ship.Cause is { } cause ? ". " + cause : "")}", "Clear what is open; the plant inspector or the quality engineer releases it, and the agency where it must."));
        foreach (var finding in unit.Judgement.Findings.Where(PacketMatter.IsOpen).Where(f => Template.PendingAllowedBy(f) is null && ship.State is not HoldState.Overridden))
            problems.Add(new($"unit {unit.Id}", $"{finding.Title}, {Words.Of(finding.Verdict)}: {finding.Reason}", finding.Clear.Length > 0 ? finding.Clear : "Clear it, or have it accepted by letter or waived."));
        foreach (var conflict in PacketMatter.Conflicts(unit))
            problems.Add(new($"unit {unit.Id}", $"record {conflict.Record.Id} is in conflict: {conflict.Reason}", "Withdraw what is wrong."));
    }

    private IEnumerable<CertificateException> ExceptionsOf(UnitMatter unit)
    {
        // One line for a requirement, however many batches or cylinder sets it was judged on.
        foreach (var same in unit.Judgement.Findings.Where(f => PacketMatter.IsOpen(f) || PacketMatter.IsException(f)).GroupBy(f => (f.Title, f.Verdict)))
            yield return new(unit.Id, same.Key.Title, Words.Of(same.Key.Verdict), string.Join("\n", same.Select(Statement).Distinct(StringComparer.Ordinal)));

        foreach (var hold in unit.Judgement.Holds.Where(PacketMatter.IsBreach))
            yield return new(unit.Id, "hold: " + Words.Of(hold.Kind), Words.Of(hold.State), PacketMatter.Statement(hold));
    }

    private string Statement(Finding finding) => finding.Reason
        + (Template.PendingAllowedBy(finding) is { } clause ? $" Due {(finding.Due is { } due ? Figures.Day(Matter.DayOf(due)) : "on a day not set")}; shipment allowed by {clause}." : "");
}
