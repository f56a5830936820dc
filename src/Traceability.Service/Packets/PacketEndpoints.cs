using System.Globalization;
using Traceability.Core.Events;
using Traceability.Core.Records;
using Traceability.Service.Operations;
using Traceability.Service.People;

namespace Traceability.Service.Packets;

public static class PacketEndpoints
{
    /// <summary>Most units in one packet; more make a PDF that nobody reads.</summary>
    private const int MostUnits = 60;

    private const string Zip = "application/zip", Pdf = "application/pdf";

    /// <param name="Units">Serials, all of one contract.</param>
    /// <param name="Draft">For the plant's own review: allowed with limits nobody has confirmed, and marked so on every page.</param>
    /// <param name="Pin">The PIN of the person who issues it; a draft needs none.</param>
    public sealed record PacketAsked(IReadOnlyList<string> Units, bool Draft = false, string? Pin = null);

    /// <param name="Pin">The PIN of the person who issues it.</param>
    public sealed record SupplementAsked(string? Pin);

    /// <param name="Units">Serials it is for; left out for all units of the delivery. A truck with units of two contracts has a certificate for each.</param>
    /// <param name="Wording">"complete" or "withExceptions": the wording the engineer means to sign; left out for the one that applies.</param>
    /// <param name="Pin">The PIN of the person who signs it.</param>
    public sealed record CertificateAsked(string? Pin, IReadOnlyList<string>? Units = null, string? Wording = null);

    public static void MapPackets(this IEndpointRouteBuilder app)
    {
        var packets = app.MapGroup("/v1/packets").WithTags("Packets");
        packets.MapPost("", PostAsync).RequireRateLimiting(Costly.Policy).RequireAuthorization(Access.QualityEngineer)
            .WithSummary("Issue the record packet of one or more units of a contract")
            .WithDescription("Judged at this moment on every record the store holds, which are sealed first. Signed with the PIN and recorded, with what is still to come; a draft is neither, and has no number. 202 where it is issued and its seal is still to come: it is handed out once it has it. Refused with every reason: an unconfirmed limit, units of two contracts, an unknown unit.")
            .Produces<IssuedPacket>(201).Produces<IssuedPacket>(202).ProducesProblem(409).ProducesProblem(422).ProducesProblem(503);
        packets.MapPost("/{id}/supplements", SupplementAsync).RequireRateLimiting(Costly.Policy).RequireAuthorization(Access.QualityEngineer)
            .WithSummary("Issue the next supplement to a packet")
            .WithDescription("The forms of the packet's units that say something else than they did, the pages they replace, the pending items answered. Judged, sealed, signed and recorded as a packet is. Refused when nothing has changed.")
            .Produces<IssuedPacket>(201).Produces<IssuedPacket>(202).ProducesProblem(404).ProducesProblem(409).ProducesProblem(503);
        var deliveries = app.MapGroup("/v1/deliveries").WithTags("Packets");
        deliveries.MapPost("/{id}/certificates", CertifyAsync).RequireRateLimiting(Costly.Policy).RequireAuthorization(Access.QualityEngineer)
            .WithSummary("Issue the load certificate of a delivery")
            .WithDescription("Judged at this moment on every record the store holds, signed with the PIN. Refused with every open item that the contract does not allow at shipment, and when the wording asked for does not fit.")
            .Produces<IssuedCertificate>(201).ProducesProblem(409).ProducesProblem(422);
        deliveries.MapGet("/{id}/certificates", async (string id, PacketStore store, CancellationToken cancel) =>
                Results.Json((await store.CertificatesAsync(id, cancel)).Select(c => c.Certificate), FactJson.Options))
            .RequireAuthorization(Access.Read).WithSummary("The load certificates of a delivery, the newest first").Produces<IReadOnlyList<IssuedCertificate>>();
        deliveries.MapGet("/{id}/certificates/{number}/certificate.pdf", async (string id, string number, PacketStore store, CancellationToken cancel) =>
                (await store.CertificatesAsync(id, cancel)).FirstOrDefault(c => c.Certificate.Number.ToString(CultureInfo.InvariantCulture) == number) is { Pdf: { } pdf }
                    ? Results.File(pdf, Pdf, $"load-certificate-{id}-{number}.pdf")
                    : Problems.Result(Problems.Of(404, "certificate-unknown", "No such certificate", $"Delivery '{id}' has no certificate {number}.")))
            .RequireAuthorization(Access.Read).WithSummary("A load certificate as it was issued").Produces(200, contentType: Pdf).ProducesProblem(404);
        packets.MapGet("", async (string? unit, HttpContext http, PacketStore store, OwnContracts own, CancellationToken cancel) =>
            {
                var listed = await store.ListAsync(unit, 200, cancel);
                var readable = await own.OfAsync(http.User, listed.SelectMany(p => p.Units), cancel);
                return Results.Json(listed.Where(p => p.Units.All(readable.Contains)), FactJson.Options);
            })
            .RequireAuthorization(Access.Read).WithSummary("The packets issued, newest first; of one unit where it is named").Produces<IReadOnlyList<IssuedPacket>>();
        packets.MapGet("/{id}", (string id, PacketSealing sealing, PacketStore store, CancellationToken cancel) =>
                WholeAsync(id, sealing, store, found => Results.File(found.Zip, Zip, Mark(found.Packet) + id + ".zip"), cancel))
            .RequireAuthorization(Access.Read).WithSummary("The packet as it was issued, a ZIP").Produces(200, contentType: Zip).ProducesProblem(404).ProducesProblem(503);
        packets.MapGet("/{id}/packet.pdf", (string id, int? part, PacketSealing sealing, PacketStore store, CancellationToken cancel) =>
                WholeAsync(id, sealing, store, found => PacketZip.ReadPdf(found.Zip, part ?? 1) is { } pdf ? Results.File(pdf, Pdf, Mark(found.Packet) + id + ".pdf") : NotFound(id), cancel))
            .RequireAuthorization(Access.Read).WithSummary("The packet's PDF; where the agency takes only small files, part 1, 2, ...").Produces(200, contentType: Pdf).ProducesProblem(404).ProducesProblem(503);
    }

    // Nothing of a packet leaves the plant before it has its seal.
    private static async Task<IResult> WholeAsync(string id, PacketSealing sealing, PacketStore store, Func<(IssuedPacket Packet, byte[] Zip), IResult> answer, CancellationToken cancel)
    {
        try
        {
            if (await sealing.WholeAsync(id, cancel) is { } whole) return answer(whole);
            return await store.FindAsync(id, cancel) is null ? NotFound(id)
                : Problems.Result(Problems.Of(503, "not-sealed", "The packet has no seal yet", $"{id} is issued and recorded; the log's signer has not sealed and signed it yet. Ask again; if it lasts, check that a part with the role signer runs."));
        }
        catch (PacketNotSealedException e)
        {
            return Problems.Result(Problems.Of(503, "not-sealed", "The packet has no seal", e.Message));
        }
    }

    private static async Task<IResult> PostAsync(PacketAsked asked, HttpContext http, PacketDesk desk, Signing signing, CancellationToken cancel)
    {
        if (asked.Units is not { Count: > 0 and <= MostUnits } || asked.Units.Any(u => !Subject.IsId(u, "unit"))) return NoUnits;
        if (!asked.Draft && signing.Pin(http.User.PersonId(), asked.Pin) is { Problem: { } problem }) return Problems.Result(problem);
        return await IssuedAsync("packet", http,
            async () => asked.Draft ? await desk.DraftAsync(asked.Units, http.User.PersonId(), cancel) : await desk.IssueAsync(asked.Units, http.User.PersonId(), cancel));
    }

    private static async Task<IResult> SupplementAsync(string id, SupplementAsked asked, HttpContext http, PacketDesk desk, PacketStore store, Signing signing, CancellationToken cancel)
    {
        if (signing.Pin(http.User.PersonId(), asked.Pin) is { Problem: { } problem }) return Problems.Result(problem);
        if (await store.FindAsync(id, cancel) is not { } found) return NotFound(id);
        return await IssuedAsync("supplement", http, async () => await desk.SupplementAsync(found.Packet, http.User.PersonId(), cancel));
    }

    private static async Task<IResult> CertifyAsync(string id, CertificateAsked asked, HttpContext http, LoadCertificates certificates, Signing signing, CancellationToken cancel)
    {
        if (!Subject.IsId(id, "delivery")) return Problems.Result(Problems.Shape([new("id", "must be a delivery's number", "Use the number the load was recorded under.")]));
        if (asked.Units?.Any(u => !Subject.IsId(u, "unit")) == true) return NoUnits;
        if (asked.Wording is not (null or LoadCertificates.Complete or LoadCertificates.WithExceptions))
            return Problems.Result(Problems.Shape([new("wording", $"must be {LoadCertificates.Complete} or {LoadCertificates.WithExceptions}, or be left out", "Leave it out for the wording that applies.")]));
        if (signing.Pin(http.User.PersonId(), asked.Pin) is { Problem: { } problem }) return Problems.Result(problem);
        try
        {
            var certificate = await certificates.IssueAsync(id, asked.Units, asked.Wording, http.User.PersonId(), cancel);
            http.Response.Headers.Location = FormattableString.Invariant($"/v1/deliveries/{Uri.EscapeDataString(id)}/certificates/{certificate.Number}/certificate.pdf");
            return Results.Json(certificate, FactJson.Options, statusCode: 201);
        }
        catch (PacketRefusedException e)
        {
            return Refused("load certificate", e);
        }
    }

    private static IResult NoUnits => Problems.Result(Problems.Of(422, "shape", "Which units?", $"units: must name 1 to {MostUnits} units by their serials. Use the serials as marked; split larger packets.",
        ("errors", new[] { new { field = "units", limit = $"must name 1 to {MostUnits} units", remedy = "Use the serials as marked." } })));

    private static async Task<IResult> IssuedAsync(string what, HttpContext http, Func<Task<IssuedPacket>> issue)
    {
        try
        {
            var packet = await issue();
            http.Response.Headers.Location = "/v1/packets/" + packet.Id;
            return Results.Json(packet, FactJson.Options, statusCode: packet.Draft || packet.Signed ? 201 : 202);
        }
        catch (PacketRefusedException e)
        {
            return Refused(what, e);
        }
        catch (PacketNotSealedException e)
        {
            return Problems.Result(Problems.Of(503, "not-sealed", "The log's signer does not answer", e.Message));
        }
    }

    private static IResult Refused(string what, PacketRefusedException e) =>
        Problems.Result(Problems.Of(409, "packet-refused", $"The {what} cannot be issued", string.Join(" ", e.Problems.Select(p => p.ToString())),
            ("errors", e.Problems.Select(p => new { field = p.Field, limit = p.Limit, remedy = p.Remedy }).ToList())));

    // Drafts of before have a packet's number; those of now say it in their name.
    private static string Mark(IssuedPacket packet) => packet.Draft && !packet.Id.StartsWith("DRAFT-", StringComparison.Ordinal) ? "DRAFT-" : "";

    private static IResult NotFound(string id) =>
        Problems.Result(Problems.Of(404, "packet-unknown", "No such packet", $"'{id}' was not issued here. GET /v1/packets lists those that were."));
}
