using System.IO.Compression;
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
    public sealed record PacketAsked(IReadOnlyList<string> Units, bool Draft = false);

    public static void MapPackets(this IEndpointRouteBuilder app)
    {
        var packets = app.MapGroup("/v1/packets").WithTags("Packets");
        packets.MapPost("", PostAsync).RequireAuthorization(Access.QualityEngineer)
            .WithSummary("Issue the record packet of one or more units of a contract")
            .WithDescription("Judged at this moment on every record the store holds, which are sealed first. Refused with every reason: an unconfirmed limit, units of two contracts, an unknown unit.")
            .Produces<IssuedPacket>(201).ProducesProblem(409).ProducesProblem(422).ProducesProblem(503);
        packets.MapGet("", async (string? unit, PacketStore store, CancellationToken cancel) => Results.Json(await store.ListAsync(unit, 200, cancel), FactJson.Options))
            .RequireAuthorization(Access.Read).WithSummary("The packets issued, newest first; of one unit where it is named").Produces<IReadOnlyList<IssuedPacket>>();
        packets.MapGet("/{id}", async (string id, PacketStore store, CancellationToken cancel) =>
                await store.FindAsync(id, cancel) is { } found ? Results.File(found.Zip, Zip, Mark(found.Packet) + id + ".zip") : NotFound(id))
            .RequireAuthorization(Access.Read).WithSummary("The packet as it was issued, a ZIP").Produces(200, contentType: Zip).ProducesProblem(404);
        packets.MapGet("/{id}/packet.pdf", async (string id, PacketStore store, CancellationToken cancel) =>
                await store.FindAsync(id, cancel) is { } found ? Results.File(PdfOf(found.Zip), Pdf, Mark(found.Packet) + id + ".pdf") : NotFound(id))
            .RequireAuthorization(Access.Read).WithSummary("The packet's PDF").Produces(200, contentType: Pdf).ProducesProblem(404);
    }

    private static async Task<IResult> PostAsync(PacketAsked asked, HttpContext http, PacketDesk desk, CancellationToken cancel)
    {
        if (asked.Units is not { Count: > 0 and <= MostUnits } || asked.Units.Any(u => !Subject.IsId(u, "unit")))
            return Problems.Result(Problems.Of(422, "shape", "Which units?", $"units: must name 1 to {MostUnits} units by their serials. Use the serials as marked; split larger packets.",
                ("errors", new[] { new { field = "units", limit = $"must name 1 to {MostUnits} units", remedy = "Use the serials as marked." } })));
        try
        {
            var packet = await desk.IssueAsync(asked.Units, asked.Draft, http.User.PersonId(), cancel);
            http.Response.Headers.Location = "/v1/packets/" + packet.Id;
            return Results.Json(packet, FactJson.Options, statusCode: 201);
        }
        catch (PacketRefusedException e)
        {
            return Problems.Result(Problems.Of(409, "packet-refused", "The packet cannot be issued", string.Join(" ", e.Problems.Select(p => p.ToString())),
                ("errors", e.Problems.Select(p => new { field = p.Field, limit = p.Limit, remedy = p.Remedy }).ToList())));
        }
        catch (PacketNotSealedException e)
        {
            return Problems.Result(Problems.Of(503, "not-sealed", "The log's signer does not answer", e.Message + " Nothing was issued; ask again."));
        }
    }

    private static string Mark(IssuedPacket packet) => packet.Draft ? "DRAFT-" : "";

    private static byte[] PdfOf(byte[] zip)
    {
        using var archive = new ZipArchive(new MemoryStream(zip));
        using var content = archive.GetEntry(Packet.Pdf)!.Open();
        using var copy = new MemoryStream();
        content.CopyTo(copy);
        return copy.ToArray();
    }

    private static IResult NotFound(string id) =>
        Problems.Result(Problems.Of(404, "packet-unknown", "No such packet", $"'{id}' was not issued here. GET /v1/packets lists those that were."));
}
