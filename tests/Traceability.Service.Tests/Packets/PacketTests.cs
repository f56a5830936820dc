using System.Text;
using System.Text.Json;
using System.Text.RegularExpressions;
using Traceability.Core.Dossiers;
using Traceability.Core.Events;
using Traceability.Core.Judging;
using Traceability.Core.Profiles;
using Traceability.Core.Quantities;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Traceability.Service.Packets;
using UglyToad.PdfPig;
using FactAttribute = Xunit.FactAttribute;
using Record = Traceability.Core.Records.Record;

namespace Traceability.Service.Tests.Packets;

public sealed partial class PacketTests
{
    private static readonly Lazy<PacketCase> OneUnit = new(() => PacketCase.Of());
    private static readonly Lazy<Packet> One = new(() => OneUnit.Value.Build(OneUnit.Value.Request()));
    private static readonly Lazy<PacketCase> SixUnits = new(() => PacketCase.Of(units: 6, Mishaps.CoverMistyped | Mishaps.TicketTwice | Mishaps.LateMillCertificate | Mishaps.OtherContentUnderOneId));
    private static readonly Lazy<Packet> Six = new(() => SixUnits.Value.Build(SixUnits.Value.Request()));

    public static TheoryData<string> Both => ["one", "six"];

    private static (PacketCase Case, Packet Packet) Named(string which) =>
        which == "one" ? (OneUnit.Value, One.Value) : (SixUnits.Value, Six.Value);

    [Theory, MemberData(nameof(Both))]
    public void Tools_from_outside_find_nothing_wrong_with_it(string which)
    {
        var (story, packet) = Named(which);
        using var folder = new PacketFolder(packet);
        File.WriteAllText(Path.Combine(folder.Path, "plant-key.pem"), story.Key.PublicPem());

        Assert.Contains("No syntax or stream encoding errors", folder.Good("qpdf", "--check", Packet.Pdf), StringComparison.Ordinal);
        Assert.DoesNotContain("FAILED", folder.Good("sha256sum", "-c", "SHA256SUMS"), StringComparison.Ordinal);
        Assert.Contains("Signature Verified Successfully", folder.Good("bash", "-ec", """
            test "$(openssl dgst -sha256 -binary manifest.json | base64)" = "$(sed -n 3p manifest.sig)"
            head -n 3 manifest.sig > body
            tail -n 1 manifest.sig | cut -d' ' -f3 | base64 -d | tail -c 64 > body.sig
            openssl pkeyutl -verify -pubin -inkey plant-key.pem -rawin -in body -sigfile body.sig
            """), StringComparison.Ordinal);
        Assert.Matches(@"Page size:\s+612 x 792 pts \(letter\)", folder.Good("pdfinfo", Packet.Pdf));
        // Every face is embedded: column "emb" is yes on every line after the head.
        Assert.All(folder.Good("pdffonts", Packet.Pdf).TrimEnd().Split('\n').Skip(2), line => Assert.Matches(@"\byes yes\b", line));
    }

    [Theory, MemberData(nameof(Both))]
    public void It_holds_no_forecast_no_chance_and_no_control_chart(string which)
    {
        var text = Text(Named(which).Packet);
        string[] never = ["early warning", "forecast", "chance", "predict", "probab", "standard deviation", "control chart", "expected strength"];
        Assert.All(never, word => Assert.DoesNotContain(word, text, StringComparison.OrdinalIgnoreCase));
    }

    [Theory, MemberData(nameof(Both))]
    public void The_verifier_proves_it_with_the_key_of_the_plant(string which)
    {
        var (story, packet) = Named(which);
        using var folder = new PacketFolder(packet);
        var key = story.Key.VerifierKey(PacketCase.Origin);
        var zip = folder.Path + ".zip";
        File.WriteAllBytes(zip, PacketZip.Write(packet));
        try
        {
            foreach (var where in new[] { folder.Path, zip })
            {
                using var said = new StringWriter();
                var exit = Verifier.Command.Run([where, "--key", key], said, said);
                Assert.True(exit == Verifier.Command.Ok, said.ToString());
            }
        }
        finally
        {
            File.Delete(zip);
        }
    }

    [Theory, MemberData(nameof(Both))]
    public void Every_page_says_contract_unit_packet_and_which_page_of_how_many_it_is(string which)
    {
        var (story, packet) = Named(which);
        using var folder = new PacketFolder(packet);
        var pages = folder.Pages();
        using var pig = PdfDocument.Open(packet[Packet.Pdf]);

        Assert.Equal(pages.Count, pig.NumberOfPages);
        for (var i = 0; i < pages.Count; i++)
        {
            Assert.Contains("Contract C-7741", pages[i], StringComparison.Ordinal);
            Assert.Contains("Packet PK-2026-0001", pages[i], StringComparison.Ordinal);
            Assert.Contains($"Page {i + 1} of {pages.Count}", pages[i], StringComparison.Ordinal);
            Assert.Matches(@"Units? RF-\d{4}", pages[i]);
            Assert.DoesNotContain("DRAFT", pages[i], StringComparison.Ordinal);
            Assert.Contains($"Page {i + 1} of {pages.Count}", string.Join(' ', pig.GetPage(i + 1).GetWords().Select(w => w.Text)), StringComparison.Ordinal);
        }

        Assert.All(story.Story.Units, u => Assert.Contains(u, pages[0], StringComparison.Ordinal));
    }

    [Theory, MemberData(nameof(Both))]
    public void Nothing_is_printed_outside_the_margins_and_no_glyph_is_missing(string which)
    {
        using var pig = PdfDocument.Open(Named(which).Packet[Packet.Pdf]);
        foreach (var page in pig.GetPages())
        {
            foreach (var word in page.GetWords())
            {
                Assert.True(word.BoundingBox.Left >= 53 && word.BoundingBox.Right <= 577 && word.BoundingBox.Bottom >= 20 && word.BoundingBox.Top <= 770,
                    $"page {page.Number}: '{word.Text}' stands at {word.BoundingBox}");
                Assert.DoesNotContain('\0', word.Text);
                Assert.DoesNotContain('\uFFFD', word.Text);
            }
        }
    }

    [Theory, MemberData(nameof(Both))]
    public void The_index_has_no_blank_cell_and_its_pages_carry_the_forms(string which)
    {
        var (story, packet) = Named(which);
        using var folder = new PacketFolder(packet);
        var pages = folder.Pages();
        var index = pages.Where(p => p.Contains("No.  ", StringComparison.Ordinal) && p.Contains("Document  ", StringComparison.Ordinal)).ToList();
        var cells = 0;
        foreach (var page in index)
        {
            var units = new List<string>();
            foreach (var line in page.Split('\n'))
            {
                var parts = line.Trim().Split("  ", StringSplitOptions.RemoveEmptyEntries | StringSplitOptions.TrimEntries);
                if (parts is ["No.", "Document", ..]) units = [.. parts.Skip(2).Select(p => p["Unit ".Length..])];
                if (parts.Length == 0 || !parts[0].StartsWith("PU-", StringComparison.Ordinal) || units.Count == 0) continue;
                Assert.Equal(2 + units.Count, parts.Length);
                for (var u = 0; u < units.Count; u++)
                {
                    cells++;
                    var at = PageOf().Match(parts[2 + u]);
                    if (!at.Success)
                    {
                        Assert.StartsWith("not required by", parts[2 + u], StringComparison.Ordinal);
                        continue;
                    }

                    var there = pages[int.Parse(at.Groups[1].Value) - 1];
                    Assert.Matches($@"{parts[0]}\s+Unit {units[u]}", there);
                }
            }
        }

        Assert.Equal(story.Story.Units.Count * PacketTemplate.For("Invented Highway Agency").Forms.Count, cells);
    }

    [GeneratedRegex(@"page (\d+)")]
    private static partial Regex PageOf();

    [Fact]
    public void Every_reading_of_the_records_stands_in_it_as_it_was_read()
    {
        using var folder = new PacketFolder(One.Value);
        var text = Regex.Replace(string.Join('\n', folder.Pages()), @"\s+", " ");
        var readings = Lines(One.Value).Select(r => r.Fact!).SelectMany(Readings).Distinct().ToList();

        Assert.True(readings.Count > 80, $"{readings.Count} readings");
        Assert.All(readings, r => Assert.Contains(r, text, StringComparison.Ordinal));
    }

    // What a form prints one by one; a probe's readings stand as a drawing with their ends.
    private static IEnumerable<string> Readings(IFact fact) => fact switch
    {
        CloseUpInspected f => f.Covers.Select(c => c.CoverIn.Text + " in").Concat(f.Bars.Where(b => b.SpacingIn is not null).Select(b => b.SpacingIn!.Value.Text + " in")),
        PrePourInspected f => f.Dimensions.Select(d => d.MeasuredIn.Text + " in"),
        BatchTicketed f => f.Ingredients.SelectMany(i => new[] { i.TargetLb.Text + " lb", i.BatchedLb.Text + " lb" }).Append(f.WaterBatchedLb.Text + " lb"),
        PourPlaced f => f.Rows.Select(r => r.VolumeYd3.Text + " yd"),
        SampleTested f => [f.TemperatureF.Text + " °F", f.AirGaugePct!.Value.Text + " %", f.AggregateCorrectionPct!.Value.Text + " %", .. f.FlowIn!.Select(d => d.Text + " in")],
        CylinderBroken f => [f.LoadLbf.Text + " lbf", f.Diameter2In.Text + " in", f.LengthIn.Text + " in", f.Diameter1In.Text],
        CureTemperatures f => [f.Readings.Max(r => r.TemperatureF.Value).ToString("0.##") + " °F"],
        LotCertified { YieldPsi: { } y, TensilePsi: { } t } f => [y.Text, t.Text, f.CertificateNumber],
        InstrumentCalibrated f => [f.CertificateNumber],
        UnitStripped f => [f.Gear, f.SlingAngleDeg.Text + "°"],
        UnitShipped f => [f.Delivery, f.Truck, f.Destination],
        _ => [],
    };

    [Fact]
    public void Its_records_judged_again_give_the_judgements_it_carries()
    {
        var story = SixUnits.Value;
        var records = Lines(Six.Value);
        using var findings = JsonDocument.Parse(Six.Value[Packet.FindingsName]);
        var carried = findings.RootElement.EnumerateArray().ToDictionary(j => j.GetProperty("unit").GetString()!, j => CanonicalJson.Canonicalize(Encoding.UTF8.GetBytes(j.GetRawText())));

        foreach (var unit in story.Story.Units)
        {
            var judged = Judge.ByContract(Assemble.Unit(new Dossier(Subject.Unit(unit), records.Count, records, PlantStory.Time)), story.IssuedAt);
            Assert.Equal(Encoding.UTF8.GetString(judged.Bytes), Encoding.UTF8.GetString(carried["unit:" + unit]));
        }
    }

    [Fact]
    public void The_same_request_gives_the_same_files_but_for_the_marks_inside_the_pdf()
    {
        var again = OneUnit.Value.Build(OneUnit.Value.Request());
        string[] ofThePdf = [Packet.Pdf, Packet.ManifestName, Packet.SignatureName, Packet.IssueRecordName, Packet.IssueProofName, Packet.IssueCheckpointName, Packet.SumsName];

        Assert.Equal(One.Value.Files.Select(f => f.Name), again.Files.Select(f => f.Name));
        foreach (var file in again.Files.Where(f => !ofThePdf.Contains(f.Name))) Assert.Equal(One.Value[file.Name], file.Bytes);
        using var one = new PacketFolder(One.Value);
        using var two = new PacketFolder(again);
        Assert.Equal(one.Pages(), two.Pages());
        Assert.Equal(PacketZip.Write(again), PacketZip.Write(again));
    }

    [Fact]
    public void Heats_are_named_both_ways_and_with_their_origin()
    {
        var text = Text(Six.Value);
        var cages = SixUnits.Value.Records.Select(r => r.Fact).OfType<CageTied>().ToList();

        Assert.Equal(6, cages.Count);
        foreach (var cage in cages)
        {
            foreach (var lot in cage.Bars.SelectMany(b => b.Lots))
            {
                Assert.Matches($@"{lot.Producer} / {lot.Number}.*melted in the United States", text);
                Assert.Matches($@"{cage.Unit} {cage.Cage} [^#]*{lot.Producer} / {lot.Number}", text);
            }
        }
    }

    [Fact]
    public void A_correction_shows_what_it_replaced_and_why_and_a_repeat_is_named()
    {
        var text = Text(Six.Value);

        Assert.Contains("covers[1].coverIn: was 1 1/16, is 1 15/16", text, StringComparison.Ordinal);
        Assert.Contains("Mistyped: the sheet and the", text, StringComparison.Ordinal);
        Assert.Contains("same fact again", text, StringComparison.Ordinal);
    }

    [Fact]
    public void With_everything_met_it_is_worded_so()
    {
        var story = PacketCase.Of(change: f => f is BatchTicketed b ? b with { MoistureBasis = MoistureBasis.Laboratory } : f);
        Assert.All(story.Unit("RF-0001").Judgement.Findings, f => Assert.True(f.Verdict is Verdict.Met or Verdict.NotApplicable, $"{f.Requirement} {f.Verdict} {f.Reason}"));

        Assert.Contains("and that no item is open", Text(Built(story)), StringComparison.Ordinal);
    }

    [Fact]
    public void A_finding_on_provisional_figures_is_named_where_it_is_signed()
    {
        Assert.Contains(OneUnit.Value.Unit("RF-0001").Judgement.Findings, f => f.Verdict == Verdict.Provisional);
        var last = Regex.Replace(string.Join('\n', Pages(One.Value).SkipWhile(p => !p.Contains("stand on figures", StringComparison.Ordinal))), @"\s+", " ");

        Assert.Contains("stand on figures that a later result can still change", last, StringComparison.Ordinal);
        Assert.Contains("PROVISIONAL", last, StringComparison.Ordinal);
        Assert.DoesNotContain("that no item is open", last, StringComparison.Ordinal);
    }

    [Fact]
    public void Strength_and_its_mean_are_the_same_figures_on_every_page()
    {
        var text = Text(One.Value);
        var strip = OneUnit.Value.Unit("RF-0001").Judgement.Findings.Single(f => f.Requirement == "strip.strength");

        foreach (Match psi in Regex.Matches(strip.Observed, @"\d{4,5}")) Assert.True(Regex.Count(text, $@"\b{psi.Value} psi") >= 1, psi.Value);
        var mean = Regex.Match(strip.Observed, @"mean (\d+) psi").Groups[1].Value;
        Assert.Matches($@"Mean of 2 that count – – – {mean} psi", text);
    }

    [Fact]
    public void A_set_broken_again_after_a_low_one_states_the_mean_of_the_finding_and_marks_the_breaks_left_out()
    {
        var story = PacketCase.Of(mishaps: Mishaps.LowStripSet);
        var strip = story.Unit("RF-0001").Judgement.Findings.Single(f => f.Requirement == "strip.strength");
        var text = Text(Built(story));

        Assert.Equal(Verdict.Met, strip.Verdict);
        Assert.Matches($@"Mean of 2 that count – – – {Regex.Match(strip.Observed, @"mean (\d+) psi").Groups[1].Value} psi", text);
        Assert.Equal(2, Regex.Count(text, @"age [\d.]+ h; not counted"));
    }

    [Fact]
    public void What_is_signed_stands_on_one_page_with_its_signatures()
    {
        var page = Assert.Single(Pages(Six.Value), p => p.Contains("Quality engineer of the plant", StringComparison.Ordinal));

        Assert.Contains("they are not certified", Regex.Replace(page, @"\s+", " "), StringComparison.Ordinal);
        Assert.Contains("For the agency: received", page, StringComparison.Ordinal);
    }

    [Fact]
    public void With_an_open_item_it_never_certifies_that_all_is_met()
    {
        var story = PacketCase.Of(change: f => f is CloseUpInspected c ? c with { Covers = [c.Covers[0] with { CoverIn = Reading.Parse("1/2") }, .. c.Covers.Skip(1)] } : f);
        var text = Text(story.Build(story.Request()));

        Assert.Contains("OPEN ITEMS: 1 NOT MET", text, StringComparison.Ordinal);
        Assert.Contains("they are not certified", text, StringComparison.Ordinal);
        Assert.DoesNotContain("no item is open", text, StringComparison.Ordinal);
        Assert.DoesNotContain("No item is open", text, StringComparison.Ordinal);
    }

    [Fact]
    public void A_document_that_is_not_there_reads_missing_in_the_index()
    {
        var packet = Built(PacketCase.Of(change: f => f is CureTemperatures ? null : f));

        Assert.Matches(@"PU-9\s+Curing Temperatures\s+[^\n]*(MISSING|PENDING|pending)", string.Join('\n', Pages(packet)));
    }

    [Fact]
    public void A_conflict_is_an_open_item_and_stands_in_the_packet()
    {
        var text = Text(Built(PacketCase.Of(mishaps: Mishaps.OtherContentUnderOneId)));

        Assert.Contains("2 records in conflict", text, StringComparison.Ordinal);
        Assert.Contains("different contents arrived under the one id", text, StringComparison.Ordinal);
        Assert.DoesNotContain("no item is open", text, StringComparison.Ordinal);
    }

    [Fact]
    public void A_limit_nobody_confirmed_stops_it_and_is_named_with_what_to_do()
    {
        var refused = Assert.Throws<PacketRefusedException>(() => Built(PacketCase.Of(confirmed: false)));

        var cover = Assert.Single(refused.Problems, p => p.Field == "limit cover.reduction.soffit");
        Assert.Contains("not confirmed against a page", cover.Limit, StringComparison.Ordinal);
        Assert.Contains("publishes the profile", cover.Remedy, StringComparison.Ordinal);
    }

    [Fact]
    public void A_confirmation_that_names_no_page_is_none()
    {
        var story = PacketCase.Of(change: f => f is ProfilePublished p ? p with { Limits = [.. p.Limits.Select(l => l with { ConfirmedPage = null })] } : f);

        Assert.Throws<PacketRefusedException>(() => story.Build(story.Request()));
    }

    [Fact]
    public void A_draft_says_so_on_every_page_and_in_its_names_and_certifies_nothing()
    {
        var packet = Built(PacketCase.Of(confirmed: false), draft: true);

        Assert.StartsWith("DRAFT-", packet.ZipName, StringComparison.Ordinal);
        Assert.StartsWith("DRAFT-", packet.PdfName, StringComparison.Ordinal);
        Assert.All(Pages(packet), p => Assert.Contains("DRAFT for the plant's own review. Not a record for the agency.", p, StringComparison.Ordinal));
        var text = Text(packet);
        Assert.Contains("LIMIT NOT CONFIRMED", text, StringComparison.Ordinal);
        Assert.DoesNotContain("I certify", text, StringComparison.Ordinal);
        Assert.Contains("\"draft\":true", Encoding.UTF8.GetString(packet[Packet.ManifestName]), StringComparison.Ordinal);
    }

    [Theory]
    [InlineData(false)]
    [InlineData(true)]
    public void The_plants_own_tighter_limit_is_never_a_failure_in_it_and_both_judgements_are_named(bool besideTheContracts)
    {
        var own = new Citation("Plant's quality plan", SourceMark.Published, "3", "cover");
        Limit Own(Limit l) => l with { Value = Reading.Parse("1/16"), Printed = "-1/16 in", Source = own, Rank = LimitRank.PlantPlan };
        var story = PacketCase.Of(change: f => f switch
        {
            ProfilePublished p when besideTheContracts => p with { PlanLimits = [Own(p.Limits.Single(l => l.Key == "cover.reduction.soffit"))] },
            ProfilePublished p => p with { Limits = [.. p.Limits.Select(l => l.Key == "cover.reduction.soffit" ? Own(l) : l)] },
            CloseUpInspected c => c with { Covers = [.. c.Covers.Select(x => x.BarMark == "A2" ? x with { CoverIn = Reading.Parse("1 3/8") } : x)] },
            _ => f,
        });
        var inPlant = story.Unit("RF-0001").Judgement;
        Assert.Contains(inPlant.Findings, f => f.Verdict == Verdict.NotMet && f.Source == own);

        var packet = story.Build(story.Request());

        Assert.DoesNotContain("NOT MET", Text(packet), StringComparison.Ordinal);
        if (besideTheContracts) Assert.DoesNotContain("-1/16 in", Text(packet), StringComparison.Ordinal);
        Assert.DoesNotContain("notMet\"", Encoding.UTF8.GetString(packet[Packet.FindingsName]), StringComparison.Ordinal);
        using var manifest = JsonDocument.Parse(packet[Packet.ManifestName]);
        Assert.Equal(inPlant.Hash, manifest.RootElement.GetProperty("judgedInPlant").GetProperty("RF-0001").GetString());
        Assert.NotEqual(inPlant.Hash, manifest.RootElement.GetProperty("judgements").GetProperty("RF-0001").GetString());
    }

    [Fact]
    public void A_reading_beyond_the_plants_and_the_contracts_limit_is_a_failure_of_the_contracts()
    {
        var story = PacketCase.Of(change: f => f switch
        {
            ProfilePublished p => p with { PlanLimits = [p.Limits.Single(l => l.Key == "cover.reduction.soffit") with { Value = Reading.Parse("1/16"), Printed = "-1/16 in", Rank = LimitRank.PlantPlan }] },
            CloseUpInspected c => c with { Covers = [.. c.Covers.Select(x => x.BarMark == "A2" ? x with { CoverIn = Reading.Parse("1/2") } : x)] },
            _ => f,
        });
        var text = Text(story.Build(story.Request()));

        Assert.Contains("NOT MET", text, StringComparison.Ordinal);
        Assert.DoesNotContain("-1/16 in", text, StringComparison.Ordinal);
    }

    [Fact]
    public void A_limit_confirmed_by_a_record_of_its_own_is_confirmed()
    {
        var story = PacketCase.Of(confirmed: false, also: records => records.Select(r => r.Fact).OfType<ProfilePublished>().Take(1)
            .SelectMany(p => p.Limits.Select(l => new ProfileConfirmed(p.Profile, p.Version, l.Key, l.Source.Document, "page 7-12", new DateOnly(2026, 2, 20)))));

        Assert.Contains("Confirmed 2026-02-20, page 7-12", Text(Built(story)), StringComparison.Ordinal);
    }

    [Fact]
    public void A_record_that_is_not_sealed_stops_it()
    {
        var request = OneUnit.Value.Request();
        var refused = Assert.Throws<PacketRefusedException>(() => PacketBuilder.Prepare(request with { Proofs = [.. request.Proofs.Skip(1)] }));

        Assert.Contains("1 of", Assert.Single(refused.Problems, p => p.Field == "proofs").Limit, StringComparison.Ordinal);
    }

    [Fact]
    public void A_record_whose_bytes_were_not_the_sealed_ones_stops_it()
    {
        var request = OneUnit.Value.Request();
        var proofs = request.Proofs.ToList();
        var cage = proofs.FindIndex(p => p.RecordId == OneUnit.Value.Records.Single(r => r.Fact is CageTied).Id);
        proofs[cage] = proofs[cage] with { LeafHash = proofs[cage + 1].LeafHash };

        var refused = Assert.Throws<PacketRefusedException>(() => PacketBuilder.Prepare(request with { Proofs = proofs }));
        Assert.Contains("does not lead to the signed root", Assert.Single(refused.Problems).Limit, StringComparison.Ordinal);
    }

    [Fact]
    public void A_checkpoint_of_another_key_stops_it()
    {
        var request = OneUnit.Value.Request();

        Assert.Equal("checkpoint", Assert.Single(Assert.Throws<PacketRefusedException>(() =>
            PacketBuilder.Prepare(request with { LogPublicKey = Service.Log.LogKey.Create().PublicKey })).Problems).Field);
    }

    [Fact]
    public void It_is_not_issued_before_its_last_evidence()
    {
        var request = OneUnit.Value.Request();

        Assert.Equal("issuedAt", Assert.Single(Assert.Throws<PacketRefusedException>(() =>
            PacketBuilder.Prepare(request with { IssuedAt = OneUnit.Value.Story.End.AddDays(-1) })).Problems).Field);
    }

    [Fact]
    public void Units_of_two_contracts_are_refused_and_both_named()
    {
        var story = PacketCase.Of(units: 2, change: f => f is UnitScheduled { Unit: "RF-0002" } s ? s with { Contract = "C-8800" } : f);
        var refused = Assert.Throws<PacketRefusedException>(() => story.Build(story.Request()));

        Assert.Contains(refused.Problems, p => p.Limit.Contains("C-7741", StringComparison.Ordinal) && p.Limit.Contains("C-8800", StringComparison.Ordinal));
    }

    [Fact]
    public void People_stand_by_their_ids_and_by_name_only_where_the_register_gives_it()
    {
        Assert.Contains("p-102", Text(One.Value), StringComparison.Ordinal);
        var named = Text(OneUnit.Value.Build(OneUnit.Value.Request() with { Names = new Dictionary<string, string> { ["p-102"] = "An Invented Name" } }));

        Assert.Contains("An Invented Name (p-102)", named, StringComparison.Ordinal);
        Assert.DoesNotContain("An Invented Name", Encoding.UTF8.GetString(OneUnit.Value.Build(OneUnit.Value.Request() with { Names = new Dictionary<string, string> { ["p-102"] = "An Invented Name" } })[Packet.RecordsName]), StringComparison.Ordinal);
    }

    [Fact]
    public void Long_texts_break_over_lines_and_pages_and_letters_beyond_latin_one_are_kept()
    {
        var remark = string.Concat(Enumerable.Range(0, 16).Select(i => $"place {i}: ≥ 1½ in, Ω-brace, Łódź tape; "));
        var word = new string('x', 300);
        var story = PacketCase.Of(change: f => f is CloseUpInspected c ? c with { Remarks = remark + word } : f);
        var packet = story.Build(story.Request());
        using var folder = new PacketFolder(packet);

        Assert.Contains("No syntax", folder.Good("qpdf", "--check", Packet.Pdf), StringComparison.Ordinal);
        var text = Text(packet);
        Assert.Contains("place 15:", text, StringComparison.Ordinal);
        Assert.Contains("Łódź", text, StringComparison.Ordinal);
        Assert.Contains("Ω-brace", text, StringComparison.Ordinal);
        using var pig = PdfDocument.Open(packet[Packet.Pdf]);
        Assert.All(pig.GetPages().SelectMany(p => p.GetWords()), w => Assert.True(w.BoundingBox.Right <= 577, w.Text));
    }

    [Fact]
    public void A_pdf_larger_than_the_agency_takes_is_split_and_its_pages_keep_their_numbers()
    {
        var story = OneUnit.Value;
        var whole = Pages(One.Value);
        // The fonts alone are a good part of so small a document.
        var largest = One.Value[Packet.Pdf].Length * 4 / 5 / 1024;
        var packet = story.Build(story.Request() with { Template = PacketTemplate.For("Invented Highway Agency") with { LargestPdfKilobytes = largest } });
        using var folder = new PacketFolder(packet);

        var parts = packet.Pdfs.ToList();
        Assert.InRange(parts.Count, 2, whole.Count - 1);
        Assert.Equal(Enumerable.Range(1, parts.Count).Select(i => $"packet-{i}.pdf"), parts.Select(p => p.Name));
        Assert.All(parts, p => Assert.True(p.Bytes.Length <= largest * 1024, $"{p.Name} has {p.Bytes.Length} bytes"));
        Assert.All(parts, p => Assert.Contains("No syntax", folder.Good("qpdf", "--check", p.Name), StringComparison.Ordinal));
        var pages = parts.SelectMany(p => folder.Good("pdftotext", "-layout", p.Name, "-").TrimEnd('\f').Split('\f')).ToList();
        Assert.Equal(whole.Count, pages.Count);
        for (var i = 0; i < pages.Count; i++) Assert.Contains($"Page {i + 1} of {pages.Count}", pages[i], StringComparison.Ordinal);
        using var said = new StringWriter();
        Assert.True(Verifier.Command.Run([folder.Path, "--key", story.Key.VerifierKey(PacketCase.Origin)], said, said) == Verifier.Command.Ok, said.ToString());
        File.Delete(Path.Combine(folder.Path, "packet-1.pdf"));
        Assert.Equal(Verifier.Command.Failed, Verifier.Command.Run([folder.Path], said, said));
    }

    [Fact]
    public void The_mean_of_an_acceptance_test_is_the_findings_on_every_page()
    {
        var broken = OneUnit.Value.Records.Select(r => r.Fact).OfType<CylinderBroken>().First(b => b.Cylinder.StartsWith("AC", StringComparison.Ordinal));
        var story = PacketCase.Of(change: f => f is CylinderBroken b && b.Cylinder == broken.Cylinder && b.Sample == broken.Sample ? b with { Diameter1In = Reading.Parse("4.20"), LoadLbf = Reading.Parse("120000") } : f);
        var text = Text(Built(story, draft: true));

        var finding = story.Unit("RF-0001").Judgement.Findings.First(f => f.Requirement == "acceptance.strength" && f.Observed.Length > 0);
        Assert.DoesNotContain(finding.Used, id => story.Records.Any(r => r.Id == id && r.Fact is CylinderBroken b && b.Cylinder == broken.Cylinder && b.Sample == broken.Sample));
        Assert.Matches($@"Mean of 2 that count – – – {Regex.Match(finding.Observed, @"mean (\d+) psi").Groups[1].Value} psi", text);
    }

    [Fact]
    public void Every_template_has_every_part_of_a_unit_once_and_an_unknown_agency_gets_the_plain_one()
    {
        Assert.Equal(PacketTemplate.AnyAgency, PacketTemplate.For("An agency nobody knows").Agency);
        Assert.All(PacketTemplate.All, t =>
        {
            foreach (var section in Enum.GetValues<PacketSection>().Where(s => s != PacketSection.None)) Assert.Single(t.Forms, f => f.Section == section);
            Assert.Equal(t.Forms.Count, t.Forms.Select(f => f.Number).Distinct().Count());
        });
    }

    [Fact]
    public void A_template_with_a_member_nobody_knows_is_refused_by_name()
    {
        var json = """{"id":"x","agency":"y","colour":"red"}""";

        Assert.Contains("colour", Assert.Throws<JsonException>(() => PacketTemplate.Read(Encoding.UTF8.GetBytes(json))).Message, StringComparison.Ordinal);
    }

    private static Packet Built(PacketCase story, bool draft = false) => story.Build(story.Request(draft));

    private static IReadOnlyList<Record> Lines(Packet packet) => [.. Encoding.UTF8.GetString(packet[Packet.RecordsName]).TrimEnd('\n').Split('\n')
        .Select((line, i) => Record.Read(Encoding.UTF8.GetBytes(line), i + 1))];

    private static IReadOnlyList<string> Pages(Packet packet)
    {
        using var folder = new PacketFolder(packet);
        return folder.Pages();
    }

    private static string Text(Packet packet) => Regex.Replace(string.Join('\n', Pages(packet)), @"\s+", " ");
}
