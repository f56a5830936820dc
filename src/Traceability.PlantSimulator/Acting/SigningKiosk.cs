using System.Globalization;
using System.Net.Http.Json;
using System.Security.Cryptography;
using System.Text;
using System.Text.Json;
using Traceability.Core.Records;
using Traceability.PlantSimulator.Story;

namespace Traceability.PlantSimulator.Acting;

/// <summary>A kiosk that was enrolled with a code and has a key of its own: signs each request, and each fact, whose signature stays with the record.</summary>
public sealed class SigningKiosk : IDisposable
{
    private readonly ECDsa _key = ECDsa.Create(ECCurve.NamedCurves.nistP256);

    private SigningKiosk()
    {
    }

    public string Id { get; private set; } = "";

    /// <summary>Enrols it in place of a station: for the station's roles, tied to the station's source.</summary>
    /// <exception cref="RefusedException">The service refused it.</exception>
    public static async Task<SigningKiosk> EnrolAsync(Uri service, Session administrator, Station station, CancellationToken cancel)
    {
        var code = (await administrator.JsonAsync(HttpMethod.Post, "v1/devices/codes", new { roles = station.Roles }, cancel)).GetProperty("code").GetString();
        var kiosk = new SigningKiosk();
        using var http = new HttpClient { BaseAddress = service };
        using var answer = await http.PostAsJsonAsync("v1/devices/enrol", new { code, name = station.Name, publicKey = Convert.ToBase64String(kiosk._key.ExportSubjectPublicKeyInfo()) }, cancel);
        if (!answer.IsSuccessStatusCode) throw new RefusedException($"the kiosk could not be enrolled: {await answer.Content.ReadAsStringAsync(cancel)}");
        kiosk.Id = (await answer.Content.ReadFromJsonAsync<JsonElement>(cancel)).GetProperty("deviceId").GetString()!;
        using var tied = await administrator.SendAsync(HttpMethod.Post, $"v1/devices/{kiosk.Id}/sources", new { sources = new[] { station.Source } }, cancel);
        return tied.IsSuccessStatusCode ? kiosk : throw new RefusedException($"the kiosk could not be tied to {station.Source}: {await tied.Content.ReadAsStringAsync(cancel)}");
    }

    /// <summary>The fact with its signature in front.</summary>
    public byte[] Signed(CloudEvent fact) =>
        [.. Encoding.UTF8.GetBytes($"{{\"{DeviceSignature.Attribute}\":\"{Sign(DeviceSignature.Text(fact.ContentHash))}\","), .. fact.Canonical.Span[1..]];

    /// <param name="now">The service's clock.</param>
    public void Sign(HttpRequestMessage request, DateTimeOffset now, ReadOnlySpan<byte> body)
    {
        var moment = now.ToUnixTimeMilliseconds().ToString(CultureInfo.InvariantCulture);
        request.Headers.Add("X-Device-Id", Id);
        request.Headers.Add("X-Device-Time", moment);
        request.Headers.Add("X-Device-Signature", Sign([.. Encoding.UTF8.GetBytes($"{request.Method} /{request.RequestUri}\n{moment}\n"), .. body]));
    }

    private string Sign(byte[] bytes) => Convert.ToBase64String(_key.SignData(bytes, HashAlgorithmName.SHA256, DSASignatureFormat.IeeeP1363FixedFieldConcatenation));

    public void Dispose() => _key.Dispose();
}
