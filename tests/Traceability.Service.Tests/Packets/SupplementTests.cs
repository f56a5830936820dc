using System.Text.Json;
using System.Text.RegularExpressions;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Service.Packets;
using Fact = Xunit.FactAttribute;

namespace Traceability.Service.Tests.Packets;

/// <summary>What comes after a packet that was issued with results pending.</summary>
public sealed class SupplementTests
{
    // Cast, its strip set broken, its ship set still to come.
    private static readonly DateTimeOffset Early = new(2026, 3, 8, 12, 0, 0, TimeSpan.FromHours(-5));

    private static readonly Lazy<PacketCase> Before = new(() => PacketCase.Of(until: Early));
    private static readonly Lazy<Packet> First = new(() => Before.Value.Build(Before.Value.Request()));
    private static readonly Lazy<PacketCase> After = new(() => PacketCase.Of());
    private static readonly Lazy<Packet> Second = new(() => Next(After.Value, First.Value));

    private static PacketRequest Request(PacketCase story, params Packet[] earlier) =>
        story.Request() with { Packet = $"{earlier[0].Id}-S{earlier.Length}", Supplements = PacketManifest.Next([.. earlier.Select(p => p[Packet.ManifestName])]) };

    private static Packet Next(PacketCase story, params Packet[] earlier) => story.Build(Request(story, earlier));

    private static JsonElement Manifest(Packet packet)
    {
        using var json = JsonDocument.Parse(packet[Packet.ManifestName]);
        return json.RootElement.Clone();
    }

    private static IReadOnlyList<string> Pages(Packet packet)
    {
        using var folder = new PacketFolder(packet);
        return folder.Pages();
    }

    private static string Text(IEnumerable<string> pages) => Regex.Replace(string.Join('\n', pages), @"\s+", " ");

    [Fact]
    public void A_packet_names_what_is_pending_and_the_contract_allows_to_come_after_shipment_and_nothing_else()
    {
        var open = Before.Value.Unit("RF-0001").Judgement.Findings.Where(f => !f.Allows).ToList();
        var pending = First.Value.Pending;

        Assert.NotEmpty(pending);
        Assert.All(pending, p => Assert.Equal(Verdict.Pending, open.Single(f => f.Requirement == p.Requirement && f.Subject == p.Subject).Verdict));
        Assert.Contains(open, f => f.Verdict == Verdict.Pending && !pending.Any(p => p.Requirement == f.Requirement));
        Assert.Equal(pending.Count, Manifest(First.Value).GetProperty("pending").GetArrayLength());
        var text = Text(Pages(First.Value));
        Assert.Contains("Results still to come, with which the contract allows shipment", text, StringComparison.Ordinal);
        Assert.Contains("712.11(b)", text, StringComparison.Ordinal);
        Assert.DoesNotContain("Results still to come", Text(Pages(Second.Value)), StringComparison.Ordinal);
    }

    [Fact]
    public void A_supplement_names_its_packet_its_number_the_pages_it_replaces_and_the_items_it_answers()
    {
        var made = Second.Value.Supplement!;
        var text = Text(Pages(Second.Value));

        Assert.Equal((First.Value.Id, 1), (made.Packet, made.Number));
        Assert.Equal(First.Value.Pending, made.Answers);
        Assert.Contains($"Supplement 1 to record packet {First.Value.Id}", text, StringComparison.Ordinal);
        Assert.Contains("Items that were pending and are answered", text, StringComparison.Ordinal);
        var pages = Pages(First.Value);
        Assert.NotEmpty(made.Forms);
        foreach (var form in made.Forms)
        {
            var replaced = form.Replaces!;
            Assert.Equal(First.Value.Id, replaced.Document);
            Assert.InRange(replaced.Through, replaced.From, pages.Count);
            Assert.Contains(form.Form + " ", pages[replaced.From - 1], StringComparison.Ordinal);
            Assert.Contains(form.Form + " ", Text(Pages(Second.Value)), StringComparison.Ordinal);
        }

        Assert.StartsWith($"{First.Value.Id} page", made.Pages, StringComparison.Ordinal);
        Assert.Matches($"{First.Value.Id} pages? [0-9]+", text);
    }

    [Fact]
    public void It_brings_the_forms_that_say_something_else_and_the_index_says_where_the_others_stand()
    {
        var made = Second.Value.Supplement!.Forms.Select(f => f.Form).ToList();

        Assert.Contains("PU-10", made);
        Assert.Contains("PU-12", made);
        Assert.DoesNotContain("PU-2", made);
        Assert.DoesNotContain("PU-5", made);
        var index = Pages(Second.Value).First(p => p.Contains("Index of documents", StringComparison.Ordinal));
        Assert.Matches($@"PU-2\s.*stands: {First.Value.Id} page", index);
        Assert.DoesNotMatch(@"PU-10\s.*stands:", index);
        Assert.DoesNotContain("Concrete cover as measured", Text(Pages(Second.Value)), StringComparison.Ordinal);
    }

    [Fact]
    public void With_nothing_changed_there_is_nothing_to_supplement()
    {
        var refused = Assert.Throws<PacketRefusedException>(() => Next(Before.Value, First.Value));
        Assert.Contains("no form has changed", refused.Message, StringComparison.Ordinal);
        Assert.Throws<PacketRefusedException>(() => Next(After.Value, First.Value, Second.Value));
    }

    [Fact]
    public void A_later_supplement_replaces_pages_of_the_earlier_one_and_answers_no_item_twice()
    {
        var revised = After.Value.With(After.Value.Records.Select(r => r.Fact).OfType<DrawingApproved>().Last() with { Revision = "Z" });
        var third = Next(revised with { IssuedAt = revised.IssuedAt.AddDays(60) }, First.Value, Second.Value);

        Assert.Equal(2, third.Supplement!.Number);
        Assert.Empty(third.Supplement.Answers);
        Assert.All(third.Supplement.Forms, f => Assert.Equal(Second.Value.Supplement!.Forms.Any(x => x.Form == f.Form) ? Second.Value.Id : First.Value.Id, f.Replaces!.Document));
    }

    [Fact]
    public void The_verifier_says_what_it_supplements_and_holds_it_against_the_packet()
    {
        var folder = Directory.CreateTempSubdirectory("supplement-").FullName;
        try
        {
            string Zip(Packet packet)
            {
                var path = Path.Combine(folder, packet.ZipName);
                File.WriteAllBytes(path, PacketZip.Write(packet));
                return path;
            }

            var key = Before.Value.Key.VerifierKey(PacketCase.Origin);
            (int Exit, string Said) Verify(params string[] args)
            {
                using var said = new StringWriter();
                return (Verifier.Command.Run(args, said, said), said.ToString());
            }

            var (exit, text) = Verify(Zip(Second.Value), "--key", key, "--of", Zip(First.Value));
            Assert.True(exit == Verifier.Command.Ok, text);
            Assert.Contains($"supplement 1 to packet {First.Value.Id}", text, StringComparison.Ordinal);

            var other = Before.Value.Build(Before.Value.Request() with { IssuedBy = "p-102" });
            var (wrong, why) = Verify(Zip(Second.Value), "--key", key, "--of", Zip(other));
            Assert.Equal(Verifier.Command.Failed, wrong);
            Assert.Contains("not the packet it supplements", why, StringComparison.Ordinal);
            Assert.Equal(Verifier.Command.Failed, Verify(Zip(First.Value), "--key", key, "--of", Zip(Second.Value)).Exit);
        }
        finally
        {
            Directory.Delete(folder, recursive: true);
        }
    }
}
