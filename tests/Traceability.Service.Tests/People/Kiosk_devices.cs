using System.Globalization;
using System.Net;
using System.Net.Http.Headers;
using System.Net.Http.Json;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;
using Traceability.Service.People;
using Traceability.Service.Tests.Hosting;

namespace Traceability.Service.Tests.People;

/// <summary>A kiosk with a key of its own: enrolled by code, believed by signature, missed by number.</summary>
public sealed class Kiosk_devices
{
    private static readonly DateTimeOffset Now = TimeProvider.System.GetUtcNow();

    [Fact]
    public async Task An_entry_that_never_arrived_is_named_by_its_number_and_content_hash()
    {
        await using var host = await PlantHost.StartAsync();
        using var kiosk = await Kiosk.EnrolAsync(host);
        var entries = kiosk.Entries(3);
        Assert.Equal(HttpStatusCode.OK, await kiosk.PostAsync(entries[0], entries[2]));

        var sequence = await kiosk.SequenceAsync(host);
        Assert.Equal(3, sequence.Highest);
        var missing = Assert.Single(sequence.Missing);
        Assert.Equal((2, entries[1].ContentHash), (missing.Sequence, missing.ContentHash));
        Assert.Empty(sequence.Broken);

        await kiosk.PostAsync(entries[1]);
        Assert.Empty((await kiosk.SequenceAsync(host)).Missing);
    }

    [Fact]
    public async Task A_body_that_was_changed_after_signing_is_refused_and_nothing_of_it_is_recorded()
    {
        await using var host = await PlantHost.StartAsync();
        using var kiosk = await Kiosk.EnrolAsync(host);
        var entries = kiosk.Entries(2);
        Assert.Equal(HttpStatusCode.Unauthorized, await kiosk.PostAsync(Kiosk.Body(entries[0]), signed: Kiosk.Body(entries[1])));
        Assert.Equal(0, await host.ScalarAsync("select count(*) from trace.record"));
    }

    [Theory]
    [InlineData(0, "/v1/kiosk/units", HttpStatusCode.OK)]
    [InlineData(-10, "/v1/kiosk/units", HttpStatusCode.Unauthorized)]
    [InlineData(0, "/v1/kiosk/shelf?after=0", HttpStatusCode.Unauthorized)]
    public async Task A_signed_reading_request_holds_for_its_own_path_and_a_short_time(int minutes, string signedPath, HttpStatusCode expected)
    {
        await using var host = await PlantHost.StartAsync();
        using var kiosk = await Kiosk.EnrolAsync(host);
        var moment = Now.AddMinutes(minutes).ToUnixTimeMilliseconds().ToString(CultureInfo.InvariantCulture);
        Assert.Equal(expected, await kiosk.GetAsync("/v1/kiosk/units", $"GET {signedPath}\n{moment}", moment));
    }

    [Fact]
    public async Task What_a_revoked_kiosk_sends_is_quarantined_and_not_lost()
    {
        await using var host = await PlantHost.StartAsync();
        using var kiosk = await Kiosk.EnrolAsync(host);
        using var administrator = await host.SignInAsync(Plant.Administrator);
        (await administrator.PostAsync(new Uri($"/v1/devices/{kiosk.Id}/revocation", UriKind.Relative), null)).EnsureSuccessStatusCode();
        await kiosk.PostAsync(kiosk.Entries(1)[0]);
        Assert.Equal(0, await host.ScalarAsync("select count(*) from trace.record"));
        Assert.Equal(1, await host.ScalarAsync($"select count(*) from trace.quarantine where device = '{kiosk.Id}' and reason like '%revoked%'"));
    }

    [Fact]
    public async Task Guessing_a_pin_is_stopped_after_a_few_tries_even_with_the_right_one()
    {
        await using var host = await PlantHost.StartAsync();
        using var kiosk = await Kiosk.EnrolAsync(host);
        var person = host.Credentials.Person(Plant.CageForeman.Id);
        Assert.Equal(HttpStatusCode.OK, await kiosk.SignOnAsync(person.Id, person.Pin));
        for (var i = 0; i < 5; i++) Assert.Equal(HttpStatusCode.Unauthorized, await kiosk.SignOnAsync(person.Id, "0"));
        Assert.Equal(HttpStatusCode.TooManyRequests, await kiosk.SignOnAsync(person.Id, person.Pin));
    }

    [Fact]
    public void A_numbering_names_gaps_repeats_and_entries_that_do_not_follow()
    {
        static NumberedEntry Entry(long n, string? previous, string hash) => new(n, previous, hash);
        Assert.Equivalent(new DeviceSequence(0, [], []), DeviceSequence.Of([]));
        Assert.Equivalent(new DeviceSequence(2, [], []), DeviceSequence.Of([Entry(2, "a", "b"), Entry(1, null, "a"), Entry(1, null, "a")]));
        Assert.Equivalent(new DeviceSequence(4, [new(1, null), new(2, null), new(3, "c")], []), DeviceSequence.Of([Entry(4, "c", "d")]));
        Assert.Equivalent(new DeviceSequence(2, [], [2]), DeviceSequence.Of([Entry(1, null, "a"), Entry(2, "x", "b")]));
        Assert.Equivalent(new DeviceSequence(1, [], [1]), DeviceSequence.Of([Entry(1, null, "a"), Entry(1, null, "b")]));
    }

    private sealed class Kiosk : IDisposable
    {
        private readonly ECDsa _key = ECDsa.Create(ECCurve.NamedCurves.nistP256);
        private readonly HttpClient _http;

        private Kiosk(Uri address) => _http = new HttpClient { BaseAddress = address };

        public string Id { get; private set; } = "";

        public static async Task<Kiosk> EnrolAsync(PlantHost host)
        {
            using var administrator = await host.SignInAsync(Plant.Administrator);
            using var made = await administrator.PostAsJsonAsync("/v1/devices/codes", new { roles = new[] { "form-crew" } });
            var code = (await made.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("code").GetString();
            var kiosk = new Kiosk(host.Address);
            using var answer = await kiosk._http.PostAsJsonAsync("/v1/devices/enrol",
                new { code, name = "Form hall", publicKey = Convert.ToBase64String(kiosk._key.ExportSubjectPublicKeyInfo()) });
            answer.EnsureSuccessStatusCode();
            kiosk.Id = (await answer.Content.ReadFromJsonAsync<JsonElement>()).GetProperty("deviceId").GetString()!;
            return kiosk;
        }

        /// <summary>Entries as the kiosk numbers them, each carrying the hash of the one before it.</summary>
        public List<CloudEvent> Entries(int count)
        {
            var entries = new List<CloudEvent>();
            for (var n = 1; n <= count; n++)
            {
                var sent = new Dictionary<string, object>
                {
                    ["specversion"] = "1.0",
                    ["id"] = Guid.NewGuid().ToString(),
                    ["source"] = "/kiosk/" + Id,
                    ["type"] = "form.oiled.v1",
                    ["time"] = Now.ToString("yyyy-MM-dd'T'HH:mm:sszzz", CultureInfo.InvariantCulture),
                    ["person"] = Plant.FormForeman.Id,
                    ["deviceseq"] = n,
                    ["data"] = new { form = "RF-FORM-1", unit = $"RF-{n:D4}", releaseAgent = "invented agent" },
                };
                if (n > 1) sent["deviceprev"] = entries[^1].ContentHash;
                entries.Add(CloudEvent.Read(JsonSerializer.SerializeToUtf8Bytes(sent)));
            }

            return entries;
        }

        public static byte[] Body(params CloudEvent[] entries) => Encoding.UTF8.GetBytes("[" + string.Join(',', entries.Select(e => Encoding.UTF8.GetString(e.Canonical.Span))) + "]");

        public Task<HttpStatusCode> PostAsync(params CloudEvent[] entries) => PostAsync(Body(entries), Body(entries));

        public Task<HttpStatusCode> PostAsync(byte[] body, byte[] signed) => SendAsync(HttpMethod.Post, "/v1/facts", signed, body, "application/cloudevents-batch+json");

        public Task<HttpStatusCode> SignOnAsync(string person, string pin)
        {
            var body = JsonSerializer.SerializeToUtf8Bytes(new { person, pin });
            return SendAsync(HttpMethod.Post, "/v1/kiosk/sign-on", body, body, "application/json");
        }

        public Task<HttpStatusCode> GetAsync(string path, string signed, string moment) => SendAsync(HttpMethod.Get, path, Encoding.UTF8.GetBytes(signed), moment: moment);

        public async Task<DeviceSequence> SequenceAsync(PlantHost host)
        {
            using var auditor = await host.SignInAsync(Plant.Auditor);
            return (await auditor.GetFromJsonAsync<DeviceSequence>($"/v1/devices/{Id}/sequence"))!;
        }

        private async Task<HttpStatusCode> SendAsync(HttpMethod method, string path, byte[] signed, byte[]? body = null, string? type = null, string? moment = null)
        {
            using var request = new HttpRequestMessage(method, path);
            if (body is not null)
            {
                request.Content = new ByteArrayContent(body);
                request.Content.Headers.ContentType = new MediaTypeHeaderValue(type!);
            }

            request.Headers.Add("X-Device-Id", Id);
            if (moment is not null) request.Headers.Add("X-Device-Time", moment);
            request.Headers.Add("X-Device-Signature", Convert.ToBase64String(_key.SignData(signed, HashAlgorithmName.SHA256, DSASignatureFormat.IeeeP1363FixedFieldConcatenation)));
            using var answer = await _http.SendAsync(request);
            return answer.StatusCode;
        }

        public void Dispose()
        {
            _key.Dispose();
            _http.Dispose();
        }
    }
}
